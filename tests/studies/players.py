"""The shortlists of twelve invented players, and whether each goes the trade's way: a table, a line a player.

    python -m tests.studies.players --processes 12 --out players.jsonl
    python -m tests.studies.players --only Wren Curlew

The trade's way is common practice, no source; the players are of our own invention. Where the engine goes another way
it is told and left. ``as_expected`` is true where a rim goes one of a player's ways, false where it goes only against
them, null where it moves in none of those dimensions.
"""

from __future__ import annotations

import argparse
import json
import time
import tomllib
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

from labrum.cases.case_file.faults import Findings
from labrum.cases.case_file.rim import read_rim
from labrum.cases.case_file.schema import RIM_DIMENSIONS
from labrum.cases.player.fitting import player_lip
from labrum.cases.player.sheet import KnownRim, SeenLips, Sheet
from labrum.cases.shortlisting.dials import ShopStep
from labrum.cases.shortlisting.finding import Listed, Shortlist, shortlist_of
from labrum.cases.workers.each import outcome_or_stop
from labrum.cases.workers.task import real_solver
from labrum.simulate.conclusions.robustness import Result
from labrum.simulate.problem import Problem

PLAYERS = Path(__file__).parents[1] / "cases" / "shortlisting" / "players.toml"
CUP_DEPTH_MM = 12.0


def players() -> list[dict[str, Any]]:
    """The players as they stand in their file."""
    found: list[dict[str, Any]] = tomllib.loads(PLAYERS.read_text(encoding="utf-8"))["player"]
    return found


def sheet_of(player: dict[str, Any]) -> tuple[Sheet, KnownRim]:
    """A player's sheet and present rim."""
    table = dict(zip(RIM_DIMENSIONS, (*player["rim"], CUP_DEPTH_MM), strict=True))
    findings = Findings()
    rim = read_rim(table, Path(), findings).rim
    assert rim is not None, findings.faults
    known = KnownRim("the present rim", rim, table)
    seen = SeenLips(thickness=player["thickness_mm"], thickness_by="calliper")
    sheet = Sheet(player["alias"], player["instrument"], player["alias"], seen, present=known,
                  complaints=tuple(player["complaints"]))  # fmt: skip
    return sheet, known


def one_by_one(problems: Sequence[Problem]) -> Iterator[tuple[int, Result]]:
    """Solve problems in this process."""
    for number, problem in enumerate(problems):
        yield number, outcome_or_stop(real_solver, problem)


def shortlisted(player: dict[str, Any], lips: int = 4) -> Shortlist:
    """A player's shortlist."""
    sheet, rim = sheet_of(player)
    return shortlist_of(sheet, rim, player_lip(sheet), ShopStep.read("0.05"), lips, one_by_one, lambda text: None)


def directions(one: Listed, found: Shortlist) -> dict[str, int]:
    """Which way each dimension goes in a rim of a shortlist; the high point by its place from the bite point."""
    before = found.present.rim.table
    after = {**before, **one.changes}
    ways = {key: _sign(value - before[key]) for key, value in one.changes.items() if key != "high_point"}
    moved = after["high_point"] * after["width_mm"] - before["high_point"] * before["width_mm"]
    return {**ways, "high_point": _sign(moved)} if abs(moved) > 0.5 * found.shop.mm else ways


def trades_way(ways: dict[str, int], expected: dict[str, int]) -> bool | None:
    """Does a rim go one of the ways expected, or (False) only against them; None where it moves in none."""
    moved = [ways[key] == sign for key, sign in expected.items() if key in ways]
    return any(moved) if moved else None


def _sign(change: float) -> int:
    return 1 if change > 0.0 else -1


def row_of(player: dict[str, Any], lips: int = 4) -> dict[str, Any]:
    """One line of the table."""
    started = time.process_time()
    try:
        found = shortlisted(player, lips)
    except Exception as error:  # a study goes on
        return {"alias": player["alias"], "error": f"{type(error).__name__}: {error}"}
    now = found.present.outcome.measures
    ways = {one.kind: trades_way(directions(one, found), player["expected"]) for one in found.listed}
    return {
        "alias": player["alias"], "instrument": player["instrument"], "complaints": player["complaints"],
        "expected": player["expected"],
        "as_expected": ways,
        "rims": {one.kind: {"changes": one.changes, "relief": round(one.relief, 2),
                            "beyond": [limit.words() for limit in one.broken],
                            "measure": [round(getattr(m, found.brief.wants[0].measure), 3)
                                        for m in (now, one.played.outcome.measures)]}
                 for one in found.listed},
        "holds_back": [one.words for one in found.holding], "unmet": [want.name for want in found.unmet],
        "left_out": found.left_out, "notes": found.notes, "rims_solved": [found.still, found.living],
        "cpu_s": round(time.process_time() - started, 1),
    }  # fmt: skip


def main() -> None:
    """Print a line a player as it is done."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", nargs="*", default=[])
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--out", type=Path)
    asked = parser.parse_args()
    chosen = [player for player in players() if not asked.only or player["alias"] in asked.only]
    with ProcessPoolExecutor(asked.processes) as pool:
        for row in pool.map(row_of, chosen):
            print(json.dumps(row), flush=True)
            if asked.out is not None:
                with asked.out.open("a", encoding="utf-8") as stream:
                    stream.write(json.dumps(row) + "\n")


if __name__ == "__main__":
    main()

"""A sweep killed with signal 9 loses no finished case and breaks nothing."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest

from labrum.cases.solving.screen import Narrator
from labrum.cases.sweeping.job import Means, SweepOrder, run_sweep
from labrum.cases.workers.store import CONVERGED, Store
from tests.cases.stand_ins import stand_in_solver as stand_in

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="kills by POSIX signals")
ROOT = Path(__file__).parents[3]


def kill_again_and_again(plan: Path, told: Path, solver: str, kills: int, most: int) -> None:
    words = ["-m", "tests.cases.stand_ins.sweep_killed", *map(str, (plan, told, solver, 20260, kills, most))]
    subprocess.run([sys.executable, *words], cwd=ROOT, check=True, timeout=600)  # s, only so that it ends


def unharmed(store: Path) -> bool:
    with sqlite3.connect(store) as base:
        answer = base.execute("PRAGMA integrity_check").fetchone()[0]
    base.close()
    return answer == "ok"


@pytest.mark.slow
def test_twenty_kills_lose_nothing(
    plan_file: Callable[[str], Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    monkeypatch.setenv(stand_in.SOLVES, str(tmp_path / "solves"))
    count = 600
    plan = plan_file(f"[vary]\nrim.width_mm = {{ from = 4.5, to = 6.5, count = {count} }}\n")
    kill_again_and_again(plan, tmp_path / "told", "noted", kills=20, most=16)
    assert unharmed(tmp_path / "plan.sqlite")
    store = Store.at(tmp_path / "plan.sqlite")
    told = [line.split(" ", 1)[0] for line in (tmp_path / "told").read_text().splitlines()]
    kept = store.find(told)
    assert len(told) > 20, "the kills came too early to prove anything"
    assert all(kept[key].status == CONVERGED for key in told)
    assert max(Counter(told).values()) == 1  # and none of them was ever solved again
    order = SweepOrder(plan, means=Means(2, solver=stand_in.noted), manner=stand_in.SILENT)
    run_sweep(order, Narrator(sys.stderr, True))
    assert f"{count} converged" in capsys.readouterr().out
    begun = (tmp_path / "solves").read_text().splitlines()
    assert count <= len(begun) <= count + 2 * 20  # each kill costs at most what its two workers were at


def test_one_kill_with_the_real_solver(
    plan_file: Callable[[str], Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    monkeypatch.setenv(stand_in.SOLVES, str(tmp_path / "solves"))
    plan = plan_file(
        "[vary]\nload.force_n = [2.0, 2.5, 3.0]\nrim.bite_radius_mm = [1.5]\naccuracy.peak_pressure_percent = [20]\n"
    )
    kill_again_and_again(plan, tmp_path / "told", "really_noted", kills=1, most=1)
    order = SweepOrder(plan, means=Means(2, solver=stand_in.really_noted), manner=stand_in.SILENT)
    run_sweep(order, Narrator(sys.stderr, True))
    assert "3 converged" in capsys.readouterr().out
    assert unharmed(tmp_path / "plan.sqlite")
    begun = (tmp_path / "solves").read_text().splitlines()
    assert 3 <= len(begun) <= 5


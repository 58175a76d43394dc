"""The store: what is kept is found again, and nothing is taken for something else."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from labrum.cases.case_file.reading import read_case
from labrum.cases.solving.fingerprint import case_key, digest, solver_identity, solver_sources
from labrum.cases.workers.store import CONVERGED, LOST, NOT_CONVERGED, KeptCase, PlanRow, Store, UnusableStore

ROOT = Path(__file__).parents[3]
ROW = KeptCase("k1", "s1", CONVERGED, "", {"rim": {"width_mm": 5.0}}, {"peak_pressure_kpa": 80.125, "past_bite": True,
             "closing_travel_ratio": None}, 2.0)  # fmt: skip


def test_what_is_kept_comes_back_to_the_last_bit(tmp_path: Path) -> None:
    store = Store.at(tmp_path / "deep" / "cases.sqlite")
    stopped = replace(ROW, key="k2", status=NOT_CONVERGED, reason="stopped at 3 N", measures=None, seconds=4.0)
    store.keep(ROW)
    store.keep(stopped)
    assert Store.at(store.path).find(["k1", "k2", "k3"]) == {"k1": ROW, "k2": stopped}
    assert store.mean_seconds("s1") == 3.0
    assert store.mean_seconds("s2") is None


def test_more_keys_than_a_statement_may_hold_are_found(tmp_path: Path) -> None:
    store = Store.at(tmp_path / "cases.sqlite")
    for number in range(5):
        store.keep(replace(ROW, key=f"k{number}"))
    assert len(store.find([f"k{number}" for number in range(40_000)])) == 5


def test_lost_cases_do_not_count_towards_the_time(tmp_path: Path) -> None:
    store = Store.at(tmp_path / "cases.sqlite")
    store.keep(replace(ROW, status=LOST, measures=None, seconds=0.0))
    assert store.mean_seconds("s1") is None


def test_other_solvers_are_told_apart(tmp_path: Path) -> None:
    store = Store.at(tmp_path / "cases.sqlite")
    store.keep(ROW)
    store.keep(replace(ROW, key="k2", solver="s2"))
    assert store.other_solvers("s2") == {"s1": 1}


def test_one_file_is_left_when_nobody_uses_it(tmp_path: Path) -> None:
    store = Store.at(tmp_path / "cases.sqlite")
    store.keep(ROW)
    assert [path.name for path in tmp_path.iterdir()] == ["cases.sqlite"]


def test_files_of_another_kind_are_refused(tmp_path: Path) -> None:
    text = tmp_path / "text.sqlite"
    text.write_text("not a database, but long enough that nobody takes it for an empty one " * 20)
    with pytest.raises(UnusableStore, match="cannot be used"):
        Store.at(text)
    other = tmp_path / "other.sqlite"
    with sqlite3.connect(other) as base:
        base.execute("CREATE TABLE recipes (name)")
    base.close()
    with pytest.raises(UnusableStore, match="something else"):
        Store.at(other)
    later = tmp_path / "later.sqlite"
    with sqlite3.connect(later) as base:
        base.execute("PRAGMA user_version = 99")
    base.close()
    with pytest.raises(UnusableStore, match="schema 99"):
        Store.at(later)


def test_a_store_whose_making_was_cut_short_is_made_whole(tmp_path: Path) -> None:
    whole = Store.at(tmp_path / "cases.sqlite")
    with sqlite3.connect(whole.path) as base:
        base.execute("PRAGMA user_version = 0")
    base.close()
    Store.at(whole.path).keep(ROW)
    assert whole.find(["k1"]) == {"k1": ROW}


def test_a_store_from_before_plans_were_kept_is_given_them(tmp_path: Path) -> None:
    path = tmp_path / "cases.sqlite"
    Store.at(path).keep(ROW)
    with sqlite3.connect(path) as base:  # as schema 1 had it
        base.execute("DROP TABLE plan")
        base.execute("DROP TABLE member")
        base.execute("PRAGMA user_version = 1")
    base.close()
    store = Store.at(path)
    assert store.find(["k1"]) == {"k1": ROW}
    rows = [PlanRow(1, {"rim.width_mm": 5.1, "lip.type": "thin"}, "k1", ""), PlanRow(2, {"w": 9.0}, "", "no")]
    store.keep_plan("d1", "a.toml", rows)
    assert Store.at(path).plan_rows("d1") == rows


def test_a_plan_that_changed_takes_the_place_of_what_it_was_and_leaves_others(tmp_path: Path) -> None:
    store, row = Store.at(tmp_path / "cases.sqlite"), PlanRow(1, {}, "k1", "")
    for digest_of_plan, place in (("d1", "a.toml"), ("d2", "b.toml"), ("d3", "a.toml")):
        store.keep_plan(digest_of_plan, place, [row])
    assert [store.plan_rows(name) for name in ("d1", "d2", "d3")] == [[], [row], [row]]


def test_a_hash_does_not_hang_on_the_order_of_keys() -> None:
    assert digest({"a": 1.5, "b": [1, 2]}) == digest({"b": [1, 2], "a": 1.5})
    assert digest({"a": 1.5}) != digest({"a": 1.5000000000000002})


def test_the_solver_is_known_by_its_code() -> None:
    version, _, code = solver_identity().rpartition("+")
    assert version
    assert len(code) == 12


def test_the_solvers_code_is_all_of_ours_that_solving_loads() -> None:
    """Read off the import statements; a fresh Python that loads the solver must come to no other modules."""
    script = (
        "import sys, labrum.simulate.solving, labrum.simulate.off_axis.answers, labrum.simulate.weak_form, "
        "labrum.simulate.main_job.halved_steps, labrum.simulate.main_job.wanted; "  # loaded where asked for
        "print(*[m for m in sys.modules if m.startswith(('labrum.meshes', 'labrum.simulate'))])"
    )
    done = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True)
    assert set(solver_sources()) == set(done.stdout.split())


@pytest.fixture
def copied_house(tmp_path: Path) -> Callable[[], str]:
    """A copy of our code to rebuild; what comes back tells its solver's fingerprint, or why there is none."""
    for package in ("cases", "meshes", "simulate"):
        shutil.copytree(ROOT / package, tmp_path / "labrum" / package, ignore=shutil.ignore_patterns("__pycache__"))
    script = "from labrum.cases.solving.fingerprint import solver_identity; print(solver_identity())"

    def fingerprint() -> str:
        environment = {**os.environ, "PYTHONPATH": str(tmp_path), "PYTHONDONTWRITEBYTECODE": "1"}
        done = subprocess.run(
            [sys.executable, "-c", script], cwd=tmp_path, env=environment, capture_output=True, text=True, check=False
        )
        return (done.stdout or done.stderr).strip().splitlines()[-1]

    return fingerprint


def test_a_module_that_moves_into_a_folder_stays_in_the_fingerprint(
    tmp_path: Path, copied_house: Callable[[], str]
) -> None:
    simulate = tmp_path / "labrum" / "simulate"
    before = copied_house()
    deep = simulate / "deep" / "deeper"
    deep.mkdir(parents=True)
    for folder in (deep.parent, deep):
        (folder / "__init__.py").touch()
    (simulate / "readings" / "sections.py").rename(deep / "sections.py")
    user = simulate / "readings" / "measures.py"
    text = user.read_text().replace("labrum.simulate.readings.sections", "labrum.simulate.deep.deeper.sections")
    user.write_text(text)
    moved = copied_house()
    (deep / "sections.py").write_text((deep / "sections.py").read_text() + "\n# a change\n")
    assert len({before, moved, copied_house()}) == 3


def test_an_import_that_leads_nowhere_gives_no_fingerprint(tmp_path: Path, copied_house: Callable[[], str]) -> None:
    user = tmp_path / "labrum" / "simulate" / "readings" / "measures.py"
    user.write_text(user.read_text() + "\n\ndef late() -> None:\n    import labrum.simulate.gone\n")
    assert "labrum.simulate.gone, which is nowhere to be read" in copied_house()


def test_a_trace_that_changed_behind_its_name_is_another_case(tmp_path: Path) -> None:
    case = read_case("round-ring")
    curve = case.problem.rim.curve
    aside = np.array([0.001, 0.0])
    moved = replace(curve, start=curve.start + aside, end=curve.end + aside)
    other = replace(case, problem=replace(case.problem, rim=replace(case.problem.rim, curve=moved)))
    assert case_key(other, "s") != case_key(case, "s")


@pytest.mark.parametrize("content", [b"", b"SQLite format 3\0" + b"\xff" * 5000, b"no database at all" * 100])
def test_a_damaged_file_is_no_store(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "a.sqlite").write_bytes(content)
    if not content:
        assert Store.at(tmp_path / "a.sqlite").find(["k1"]) == {}  # as the database itself leaves a new file
        return
    with pytest.raises(UnusableStore, match="cannot be used as a store"):
        Store.at(tmp_path / "a.sqlite")


@pytest.mark.parametrize("name", ["a" * 300, "folder", "file/store"])
def test_a_place_that_holds_no_file_is_no_store(tmp_path: Path, name: str) -> None:
    (tmp_path / "folder").mkdir()
    (tmp_path / "file").write_text("x")
    with pytest.raises(UnusableStore, match="cannot be used as a store"):
        Store.at(tmp_path / name)


@pytest.mark.parametrize("change", [
    "resolved = '{'", "resolved = '[]'", "resolved = x'ff'", "measures = 'nonsense'", "measures = '[1]'",
    "measures = NULL", "seconds = 'x'",
])
def test_a_row_that_cannot_be_read_is_told(tmp_path: Path, change: str) -> None:
    store = Store.at(tmp_path / "cases.sqlite")
    store.keep(ROW)
    base = sqlite3.connect(store.path)
    with base:
        base.execute(f"UPDATE solved SET {change}")
    base.close()
    with pytest.raises(UnusableStore, match=r"is damaged|cannot be used"):
        store.find(["k1"])


def test_a_plan_with_bad_settings_is_told(tmp_path: Path) -> None:
    store = Store.at(tmp_path / "cases.sqlite")
    store.keep_plan("d", "plan \udce9.toml", [PlanRow(1, {"a": 1.0}, "k1", "")])
    assert store.plan_rows("d") == [PlanRow(1, {"a": 1.0}, "k1", "")]
    base = sqlite3.connect(store.path)
    with base:
        base.execute("UPDATE member SET settings = '3'")
    base.close()
    with pytest.raises(UnusableStore, match="is damaged"):
        store.plan_rows("d")

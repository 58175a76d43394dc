"""What is asked of a sweep: bands, maps and trade-offs against hand-worked answers, and how they are asked for."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from labrum.cases.asking import wide_enough
from labrum.cases.asking.answers import MapOf, Request, WideEnough, answer_map, answer_trade_off, answer_wide_enough
from labrum.cases.asking.habits import habit
from labrum.cases.asking.interpolation import by_process, linear
from labrum.cases.asking.limits import limit_of
from labrum.cases.asking.trade_off import Wish, best
from labrum.cases.asking.wide_enough import Criteria, last_crossing, net_gain, one_width
from labrum.cases.case_file.reading import case_from_table, case_from_text, read_case
from labrum.cases.case_file.toml_writer import case_text
from labrum.cases.command import app
from labrum.cases.exits import DONE, USAGE, CannotDo
from labrum.cases.solving.fingerprint import solver_identity
from labrum.cases.solving.screen import Narrator
from labrum.cases.sweeping import expansion
from labrum.cases.sweeping.expansion import members, unit_sample
from labrum.cases.sweeping.job import read_rows
from labrum.cases.sweeping.plan import Sample, read_plan
from labrum.cases.sweeping.runner import Row, task_of
from labrum.cases.workers.store import Store
from labrum.cases.workers.task import solved
from labrum.reports.sweeps.findings import BandEnd
from tests.cases.stand_ins import stand_in_solver as stand_in

PLAN = """\
[vary]
rim.width_mm = { from = 4.5, to = 7.5, step = 0.25 }
rim.bite_radius_mm = [0.4, 0.6, 0.8]
rim.inner_crown_radius_mm = ["flat"]
"""


@pytest.fixture(scope="module")
def once() -> dict[str, bytes]:
    """Stores already filled, by the text of their plans."""
    return {}


@pytest.fixture
def swept(plan_file: Callable[[str], Path], once: dict[str, bytes]) -> Callable[..., Path]:
    """Keep a plan's cases as the made-up solver has them, without the cost of a process, and return the plan's path."""

    def sweep(text: str = PLAN) -> Path:
        path, solver = plan_file(text), solver_identity()
        if text in once:
            path.with_suffix(".sqlite").write_bytes(once[text])
            return path
        store = Store.at(path.with_suffix(".sqlite"))
        for member in members(read_plan(path), solver):
            if member.case is not None:
                store.keep(solved(task_of(member.key, member.case, solver), stand_in.at_once))
        once[text] = store.path.read_bytes()
        return path

    return sweep


def numbers(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))


def test_the_worth_of_a_tenth_is_the_slope_less_what_shortening_costs() -> None:
    """Straight lines: 8 kPa/mm less peak and 0.03 a mm less shortening; 0.8 - 2 * 0.3 = 0.2 kPa for 0.1 mm."""
    widths = np.array([4.5, 5.0, 5.6, 6.5])
    where, gain = net_gain(widths, 100 - 8 * widths, 1 - 0.03 * widths, Criteria("peak_pressure_kpa", 2, 1, 2.0))
    assert gain == pytest.approx(np.full(len(where), 0.2))
    assert (where[0], where[-1]) == pytest.approx((4.75, 6.25))


def test_a_shortening_that_grows_costs_nothing() -> None:
    widths = np.array([4.5, 5.0, 5.6, 6.5])
    _, gain = net_gain(widths, 100 - 8 * widths, 1 + 0.03 * widths, Criteria("peak_pressure_kpa", 2, 1, 2.0))
    assert gain == pytest.approx(np.full(len(gain), 0.8))


def test_a_gain_that_comes_back_has_not_stopped_paying() -> None:
    where = np.array([5.0, 5.1, 5.2, 5.3])
    assert last_crossing(where, np.array([4.0, 3.0, 1.0, 0.5]), 2.0) == pytest.approx(5.15)
    assert last_crossing(where, np.array([4.0, 1.0, 3.0, 1.0]), 2.0) == pytest.approx(5.25)
    assert last_crossing(where, np.array([4.0, 1.0, 1.0, 3.0]), 2.0) == np.inf
    assert last_crossing(where, np.array([1.0, 1.0, 1.0, 0.0]), 2.0) == -np.inf


def test_ends_that_cannot_be_told_apart_are_one_width() -> None:
    """Nearer than the gain is averaged over, or within their doubts; else, or where one is not known, they are two."""
    narrow = BandEnd(6.5, 6.3, 6.7)
    assert one_width(narrow, BandEnd(6.6, 6.55, 6.65)) == BandEnd(6.55, 6.3, 6.7)
    assert one_width(narrow, BandEnd(6.9, -np.inf, 7.1)) == BandEnd(6.7, 6.3, 7.1)
    assert one_width(BandEnd(6.5, 6.49, 6.51), BandEnd(6.7, 6.69, 6.71)) == BandEnd(6.6, 6.49, 6.71)
    assert one_width(narrow, BandEnd(7.0, 6.8, 7.2)) is None
    assert one_width(narrow, BandEnd(6.0, 5.8, 6.2)) is None
    assert one_width(narrow, BandEnd(np.inf, 6.6, np.inf)) is None


def test_a_knee_is_one_width_in_answer_table_and_words(
    swept: Callable[..., Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    how = WideEnough(narrow=1.2, wide=1.1, per_shortening=0.0)  # ends at 5.11 and 5.26
    answer_wide_enough(Request(swept(), out=tmp_path / "k"), how, Narrator(io.StringIO()))
    row = numbers(tmp_path / "k" / "wide-enough.csv")[0]
    assert float(row["wide_enough_about_mm"].split()[0]) == pytest.approx(5.18, abs=0.02)
    assert "wide enough at about 5.1" in capsys.readouterr().out


def test_the_band_of_a_known_peak(
    swept: Callable[..., Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The made-up peak is 20 (40 / w^2 + ...) kPa, so 0.1 mm is worth 160 / w^3; shortening, 1 - 0.02 w^2, takes
    0.4 w.

    At ``per_shortening`` 0 the ends are (160 / threshold)^(1/3); the half-millimetre average moves them by less than
    0.02.
    """
    path, how = swept(), WideEnough(narrow=1.2, wide=0.6, per_shortening=0.0)
    out = tmp_path / "out"
    assert answer_wide_enough(Request(path, out=out), how, Narrator(io.StringIO())) == DONE
    for row in numbers(out / "wide-enough.csv"):
        assert float(row["too_narrow_below_mm"].split()[0]) == pytest.approx((160 / 1.2) ** (1 / 3), abs=0.02)
        assert float(row["too_wide_above_mm"].split()[0]) == pytest.approx((160 / 0.6) ** (1 / 3), abs=0.02)
    assert "bite radius 0.4 mm" in capsys.readouterr().out
    dear = WideEnough(narrow=1.2, wide=0.6, per_shortening=0.3)  # 160 / w^3 - 0.12 w = 0.6 has its root at 5.06
    answer_wide_enough(Request(path, out=tmp_path / "dear"), dear, Narrator(io.StringIO()))
    ends = numbers(tmp_path / "dear" / "wide-enough.csv")[0]
    root = np.roots([0.12, 0.6, 0, 0, -160])
    expected = float(root[(root.imag == 0) & (root.real > 0)].real[0])
    assert float(ends["too_wide_above_mm"].split()[0]) == pytest.approx(expected, abs=0.02)
    assert (out / "wide-enough.png").read_bytes().startswith(b"\x89PNG")
    assert len(numbers(out / "wide-enough-curves.csv")) == 39


def test_too_narrow_is_where_the_peak_stands_on_the_edges(
    swept: Callable[..., Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Made up: edge over crown is (5.6 / w)^2, known to 0.1 %, which moves the end by half as much; a worth that is
    asked for overrules it.
    """
    path, said = swept(), io.StringIO()
    found = wide_enough.measure_of

    def with_edge(row: Row, name: str) -> float | None:
        known = (5.6 / float(row.member.settings["rim.width_mm"])) ** 2
        return known if name == "edge_to_crown_pressure" else found(row, name)

    monkeypatch.setattr(wide_enough, "measure_of", with_edge)
    answer_wide_enough(Request(path, out=tmp_path / "e"), WideEnough(), Narrator(said))
    told = numbers(tmp_path / "e" / "wide-enough.csv")[0]["too_narrow_below_mm"]
    ends = [float(number) for number in re.findall(r"[\d.]+", told)]
    assert ends == pytest.approx([5.6, 5.6 * (1 - 5e-4), 5.6 * (1 + 5e-4)], abs=0.006)
    assert "too narrow: the peak stands on the rim's edges" in said.getvalue()
    assert numbers(tmp_path / "e" / "wide-enough-curves.csv")[0]["edge_to_crown_pressure"] != ""
    how = WideEnough(narrow=1.2, wide=0.6, per_shortening=0.0)
    answer_wide_enough(Request(path, out=tmp_path / "w"), how, Narrator(io.StringIO()))
    asked = numbers(tmp_path / "w" / "wide-enough.csv")[0]["too_narrow_below_mm"]
    assert float(asked.split()[0]) == pytest.approx((160 / 1.2) ** (1 / 3), abs=0.02)


def test_ends_beyond_the_widths_tried_are_said_to_be(swept: Callable[..., Path], tmp_path: Path) -> None:
    path = swept()
    for name, how, words in (
        ("a", WideEnough(narrow=9.0, wide=8.0), ("less than 4.75", "less than 4.75")),
        ("b", WideEnough(narrow=0.01, wide=0.0, per_shortening=0.0), ("more than 7.25", "more than 7.25")),
    ):
        answer_wide_enough(Request(path, out=tmp_path / name), how, Narrator(io.StringIO()))
        row = numbers(tmp_path / name / "wide-enough.csv")[0]
        assert (row["too_narrow_below_mm"], row["too_wide_above_mm"]) == words


def test_a_map_keeps_to_the_limits_and_the_habits(
    swept: Callable[..., Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, said = swept(), io.StringIO()
    how = MapOf("rim.width_mm", "rim.bite_radius_mm", "felt_diameter_mm", ("felt_diameter_mm<=22.5",))
    assert answer_map(Request(path, out=tmp_path / "m"), how, Narrator(said)) == DONE
    # Felt diameter is 16.5 + width: within the limit up to 6.0 of 4.5 to 7.5 mm, half of the map (61 of 121 columns).
    assert "50 % of the map is acceptable" in said.getvalue()
    rows = numbers(tmp_path / "m" / "map.csv")
    assert len(rows) == 39
    assert all(float(r["felt_diameter_mm"]) == pytest.approx(16.5 + float(r["rim.width_mm"])) for r in rows)
    assert "usual for trumpet: common practice, no source" in (tmp_path / "m" / "map.svg").read_text(encoding="utf-8")


def test_the_rims_that_none_beats() -> None:
    """Four points: (1, 4), (2, 2) and (4, 1) stand; (3, 3) is beaten by (2, 2); doubles do not beat each other."""
    aims = (Wish("peak_pressure_kpa", "low"), Wish("intrusion_height_mm", "low"))
    assert best(np.array([[1.0, 4], [2, 2], [3, 3], [4, 1], [2, 2]]), aims) == [0, 1, 3, 4]
    up = (Wish("peak_pressure_kpa", "low"), Wish("closing_travel_ratio", "high"))
    assert best(np.array([[1.0, 4], [2, 2], [3, 5]]), up) == [0, 2]


def test_every_rim_of_the_trade_off_opens_as_the_case_it_was(
    swept: Callable[..., Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = swept()
    aims = ("peak_pressure_kpa:low", "intrusion_height_mm:low")
    answer_trade_off(Request(path, out=tmp_path / "t"), aims, Narrator(io.StringIO()))
    rows = numbers(tmp_path / "t" / "trade-off.csv")
    # Width is good for both, so only the widest remain: one for each bite radius.
    assert [(r["rim.width_mm"], r["rim.bite_radius_mm"]) for r in rows] == [
        ("7.5", "0.8"), ("7.5", "0.6"), ("7.5", "0.4")]  # fmt: skip
    case = read_case(str(tmp_path / "t" / "rim-01.toml"))
    assert case.problem.rim.bite_radius == 0.8
    assert case.problem.rim.outer_radius == pytest.approx(8.25 + 7.5)


@pytest.mark.parametrize("name", ["demo", "round-ring", "fleshy-loud"])
def test_a_case_written_as_text_reads_back_the_same(name: str) -> None:
    case = read_case(name)
    text = case_text(case.resolved, 'A "quoted" title\n')
    again = case_from_text(text)
    assert again.resolved == {**case.resolved, "title": 'A "quoted" title\n'}


def test_limits_are_read_or_refused() -> None:
    assert limit_of("peak_pressure_kpa <= 80").kept(80.0)
    assert not limit_of("closing_travel_ratio>=0.9").kept(0.89)
    for text, words in (("peak_pressure<=80", "did you mean"), ("peak_pressure_kpa=80", "write"), ("a<=b", "write")):
        with pytest.raises(CannotDo, match=words):
            limit_of(text)


def test_habits_go_by_the_inner_diameter_unless_named() -> None:
    assert habit("", 25.0) == ("tenor-trombone", {"rim.inner_diameter_mm": (24.0, 26.0), "rim.width_mm": (5.5, 7.5),
                                                  "rim.bite_radius_mm": (0.2, 1.0)})  # fmt: skip
    assert habit("", 22.0) == ("none", {})
    assert habit("tuba", 16.0)[0] == "tuba"
    with pytest.raises(CannotDo, match="one of trumpet"):
        habit("ocarina", 16.0)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("wide-enough", "--benefit", "sink_mm"), "--benefit sink_mm: one of"),
        (("wide-enough", "--wide", "9"), "--wide 9 is more than --narrow 2"),
        (("wide-enough", "--at", "rim.width_mm=5"), "it takes 4"),
        (("wide-enough", "--at", "rim.with_mm=5"), "did you mean rim.width_mm?"),
        (("wide-enough", "--at", "rim.bite_radius_mm=3"), "was varied over 0.4, 0.6, 0.8"),
        (("trade-off", "--aim", "peak_pressure_kpa"), "peak_pressure_kpa:low"),
        (("trade-off", "--aim", "peak_pressure_kpa:low"), "two or more"),
        (("trade-off", "--aim", "felt_drift:low", "--aim", "sink_mm:low"), "did you mean"),
    ],
)
def test_questions_that_cannot_be_answered_say_why(
    swept: Callable[..., Path], words: tuple[str, ...], said: str
) -> None:
    done = CliRunner().invoke(app, [words[0], str(swept()), *words[1:]])
    assert done.exit_code == USAGE
    assert said in done.stderr


@pytest.mark.parametrize(
    ("across", "up", "said"),
    [
        ("rim.width_mm", "lip.type", "needs numbers"),
        ("rim.width_mm", "rim.bite_mm", "did you mean"),
        ("rim.width_mm", "rim.bite_radius_mm", '--at "lip.type=thin"'),
    ],
)
def test_maps_that_cannot_be_drawn_say_why(swept: Callable[..., Path], across: str, up: str, said: str) -> None:
    path = swept(PLAN + 'lip.type = ["thin", "average"]\n')
    done = CliRunner().invoke(app, ["map", str(path), across, up, "peak_pressure_kpa"])
    assert done.exit_code == USAGE
    assert said in done.stderr


def test_a_second_question_builds_no_case_but_the_rims_it_writes(
    swept: Callable[..., Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, built = swept(), []
    monkeypatch.setattr(expansion, "case_from_table", lambda *given: built.append(given) or case_from_table(*given))
    aims = ("peak_pressure_kpa:low", "intrusion_height_mm:low")
    for name in "ab":
        answer_trade_off(Request(path, out=tmp_path / name), aims, Narrator(io.StringIO()))
        answer_wide_enough(Request(path, out=tmp_path / f"{name}w"), WideEnough(), Narrator(io.StringIO()))
    assert len(built) == 39 + 2 * 3  # every case once, for the first question; then three rims for each trade-off
    for file in (tmp_path / "a").glob("*.[ct][so][vm]*"):
        assert file.read_bytes() == (tmp_path / "b" / file.name).read_bytes()


def test_settings_are_not_taken_from_a_plan_that_was_another(
    swept: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    path, said = swept(), Narrator(io.StringIO())
    assert len(read_rows(path, None, said)[1]) == 39
    path.write_text(path.read_text().replace("[0.4, 0.6, 0.8]", "[0.4, 0.8]"))
    assert len(read_rows(path, None, said)[1]) == 26
    monkeypatch.setattr(expansion, "reading_identity", lambda: "other code")
    monkeypatch.setattr(expansion, "case_from_table", lambda *given: pytest.fail("built, as it must be"))
    with pytest.raises(pytest.fail.Exception, match="as it must be"):
        read_rows(path, None, said)


def test_a_question_before_the_sweep_sends_one_there(plan_file: Callable[[str], Path]) -> None:
    done = CliRunner().invoke(app, ["wide-enough", str(plan_file(PLAN))])
    assert done.exit_code == USAGE
    assert "run labrum sweep" in done.stderr


def test_a_gaussian_process_reads_a_smooth_measure_and_tells_its_error() -> None:
    """x^2 + y over a sample of the square: the process beats straight lines, and its error is what it says."""
    solved = unit_sample(2, Sample(32, 1))
    asked = np.random.default_rng(3).uniform(0.2, 0.8, (200, 2))
    truth = asked[:, 0] ** 2 + asked[:, 1]
    straight = linear(solved, solved[:, 0] ** 2 + solved[:, 1], asked)
    smooth = by_process(solved, solved[:, 0] ** 2 + solved[:, 1], asked)
    off = float(np.sqrt(np.mean((smooth.values - truth) ** 2)))
    assert straight.error is None
    assert smooth.error is not None
    assert off < 0.2 * float(np.sqrt(np.mean((straight.values - truth) ** 2)))
    assert smooth.error < 0.02
    noise = np.random.default_rng(4).normal(0.0, 0.1, len(solved))
    rough = by_process(solved, solved[:, 0] ** 2 + solved[:, 1] + noise, asked)
    assert rough.error == pytest.approx(0.1, rel=0.5)  # what is noise cannot be predicted, and the error says so


def test_nothing_is_read_beyond_the_solved_cases() -> None:
    solved = unit_sample(2, Sample(16, 1))
    for reader in (linear, by_process):
        assert np.isnan(reader(solved, solved[:, 0], np.array([[2.0, 2.0]])).values[0])


def test_too_few_cases_for_a_process_are_refused() -> None:
    solved = unit_sample(2, Sample(8, 1))
    with pytest.raises(CannotDo, match="takes 12"):
        by_process(solved, solved[:, 0], solved)

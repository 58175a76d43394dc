"""Tolerances against functions whose shares of variance are known, and the command's answer with a quick solver."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import pytest

from labrum.cases.case_file.reading import read_case
from labrum.cases.exits import DONE, PARTLY_FAILED, CannotDo
from labrum.cases.solving.screen import Narrator
from labrum.cases.sweeping.expansion import unit_sample
from labrum.cases.sweeping.job import Means
from labrum.cases.sweeping.plan import Sample
from labrum.cases.tolerancing.job import ToleranceOrder, run_tolerance
from labrum.cases.tolerancing.loosest import loosest
from labrum.cases.tolerancing.parameters import lip_parameters, rim_parameters
from labrum.cases.tolerancing.shares import polynomial_fit, shares
from labrum.cases.tolerancing.tolerances import tolerance_of
from labrum.cases.workers.store import KeptCase, Store
from labrum.cases.workers.task import Solver, Task, solved
from tests.cases.stand_ins import stand_in_solver as stand_in


@pytest.fixture(autouse=True)
def without_processes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Solve here and now: the processes of a sweep have tests of their own and take a while to start."""

    def solve(tasks: Sequence[Task], store: Store, solver: Solver, workers: int) -> Iterator[KeptCase]:
        with store.keeper() as keep:
            for task in tasks:
                keep(solved(task, solver))
                yield store.find([task.key])[task.key]

    monkeypatch.setattr("labrum.cases.sweeping.job.solve_here", solve)


@pytest.mark.parametrize(
    ("text", "size", "kind", "half"),
    [
        ("0.05mm", 16.5, "length", 0.05),
        ("2thou", 5.2, "length", 0.0508),
        ("iso2768-m", 5.2, "length", 0.1),  # 0.5 to 6 mm
        ("iso2768-m", 16.5, "length", 0.2),  # over 6 to 30 mm
        ("ISO 2768-m", 6.0, "length", 0.1),
        ("iso2768-m", 0.6, "radius", 0.2),  # table 2, from memory
        ("iso2768-c", 8.0, "radius", 2.0),
    ],
)
def test_tolerances_as_a_drawing_gives_them(text: str, size: float, kind: str, half: float) -> None:
    assert tolerance_of(text)(size, kind) == pytest.approx(half)


@pytest.mark.parametrize("text", ["", "0.05", "-1mm", "iso2768-x", "1.2.3mm", "0mm"])
def test_tolerances_that_cannot_be_read_are_refused(text: str) -> None:
    with pytest.raises(CannotDo, match=r"write 0\.05mm"):
        tolerance_of(text)


def test_a_class_gives_nothing_below_half_a_millimetre() -> None:
    with pytest.raises(CannotDo, match=r"NAME=0\.05mm"):
        tolerance_of("iso2768-m")(0.3, "radius")


def test_dimensions_get_their_own_or_the_overall_tolerance() -> None:
    case = read_case("demo")
    found = {p.path[1]: p for p in rim_parameters(case, "0.05mm", ["rim.bite_radius_mm=1thou"])}
    assert found["bite_radius_mm"].half == pytest.approx(0.0254)
    assert found["width_mm"].half == 0.05
    assert found["high_point"].half == pytest.approx(0.05 / 5.2)  # a length on the drawing, a fraction in the case
    for bad, words in (("bite_radus_mm=1thou", "mean bite_radius_mm"), ("bite_radius_mm=0.7mm", "nothing of it")):
        with pytest.raises(CannotDo, match=words):
            rim_parameters(case, "0.05mm", [bad])
    with pytest.raises(CannotDo, match="an outline"):
        rim_parameters(read_case("round-ring"), "0.05mm", [])
    assert [p.path[1] for p in lip_parameters(15, 0)] == ["thickness_factor"]


def laid_out(count: int, points: int) -> np.ndarray:
    pairs = [sign * np.eye(count)[axis] for axis in range(count) for sign in (-1, 1)]
    return np.vstack([np.zeros(count), pairs, 2 * unit_sample(count, Sample(points, 3)) - 1])


def test_a_linear_measure_has_the_same_shares_both_ways() -> None:
    """3 x + y + 0 z over [-1, 1]: variances 9/3, 1/3, 0."""
    places = laid_out(3, 32)
    told = shares(places, places @ [3.0, 1.0, 0.0] + 10)
    assert told.by_slopes == pytest.approx([0.9, 0.1, 0.0])
    assert told.single == pytest.approx([0.9, 0.1, 0.0], abs=1e-9)
    assert told.gap < 1e-9
    assert told.unexplained < 1e-9


def test_indices_of_a_product_and_a_square_are_the_hand_worked_ones() -> None:
    """x + y^2 + 2 x y over the square: V_x = 1/3, V_y = 4/45, V_xy = 4/9, in all 39/45.

    Worked by hand from the integrals of x^2 (1/3) and y^4 (1/5).
    """
    places = laid_out(2, 64)
    x, y = places.T
    told = shares(places, x + y**2 + 2 * x * y)
    assert told.single == pytest.approx([15 / 39, 4 / 39], abs=1e-9)
    assert told.total == pytest.approx([35 / 39, 24 / 39], abs=1e-9)
    assert told.gap > 0.5  # the slopes at the nominal see x alone


def test_what_the_fit_cannot_explain_is_told() -> None:
    places = laid_out(2, 64)
    noise = np.random.default_rng(2).standard_normal(len(places))
    assert shares(places, noise).unexplained > 0.8
    assert shares(places, 10 * places[:, 0] + noise).unexplained == pytest.approx(3 / 103, abs=0.03)


def test_the_loosest_tolerance_of_a_linear_peak() -> None:
    """A peak of 100 + 4 x kPa: 95 % of |4 k x| lie below 3.8 k, so keeping 2 % means k = 2 / 3.8."""
    places = laid_out(2, 32)
    fit = polynomial_fit(places, 100 + 4 * places[:, 0])
    found = loosest(fit, 100.0, 2.0, lambda p: 100 + 4 * p[:, 0], 64, 1)
    assert found.holds
    assert found.factor == pytest.approx(2 / 3.8, rel=0.05)
    assert found.share >= 0.95


def test_the_loosest_tolerance_rests_on_solved_rims_not_on_the_fit() -> None:
    """Beyond what was fitted the true peak rises eight times as fast: the guess fails and is taken back."""
    places = laid_out(1, 32)
    fit = polynomial_fit(places, 100 + 1.0 * places[:, 0])

    def truth(p: np.ndarray) -> np.ndarray:
        return 100 + p[:, 0] + 7 * np.sign(p[:, 0]) * np.maximum(0, np.abs(p[:, 0]) - 1)

    found = loosest(fit, 100.0, 2.0, truth, 64, 1)
    assert found.holds
    assert np.mean(np.abs(truth(found.factor * np.linspace(-1, 1, 201)[:, None]) - 100) <= 2.0) > 0.93
    assert 1.0 < found.factor < 1.3


def test_the_command_tells_what_matters_and_keeps_lip_and_lathe_apart(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Peak 20 (40 / w^2 + 0.3 / b): slopes 80 F / w^3 and 0.3 F / b^2, 11.4 and 16.7 kPa/mm, shares 32 and 68 %."""
    order = ToleranceOrder(
        "demo", "0.05mm", keep_percent=3.0, points=16, store=tmp_path / "t.sqlite", out=tmp_path / "out",
        means=Means(2, solver=stand_in.at_once), manner=stand_in.SILENT,
    )  # fmt: skip
    assert run_tolerance(order, Narrator(io.StringIO())) == DONE
    said = capsys.readouterr().out
    wide = next(line for line in said.splitlines() if "rim.width_mm" in line)
    bite = next(line for line in said.splitlines() if "rim.bite_radius_mm" in line)
    assert float(wide.split()[4].rstrip("%")) == pytest.approx(100 * 11.38**2 / (11.38**2 + 16.67**2), abs=1.1)
    assert float(bite.split()[4].rstrip("%")) == pytest.approx(100 * 16.67**2 / (11.38**2 + 16.67**2), abs=1.1)
    assert "the two agree" in said
    assert "what is not known of the lip: 16 cases" in said
    assert "of the nominal: " in said
    assert (tmp_path / "out" / "tolerance.png").is_file()


def test_rims_within_the_tolerance_that_cannot_be_solved_are_counted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """At 5.2 mm plus or minus 0.35 some of the sample round to 6 mm, where the stand-in stops; the ends do too."""
    order = ToleranceOrder(
        "demo", "0.05mm", ("width_mm=0.35mm",), points=8, store=tmp_path / "t.sqlite", out=tmp_path / "out",
        means=Means(1, solver=stand_in.troubled), manner=stand_in.SILENT,
    )  # fmt: skip
    with pytest.raises(CannotDo, match=r"end of its tolerance has no result: stopped at 10\.00 N"):
        run_tolerance(order, Narrator(io.StringIO()))


def test_a_lost_rim_inside_the_box_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Crown and width together make a rim that cannot be, though neither end alone does."""
    path = tmp_path / "tight.toml"
    path.write_text("""\
schema = 1
[rim]
inner_diameter_mm = 16.5
width_mm = 5.2
inner_crown_radius_mm = 3.36
[lip]
type = "average"
[load]
force_n = 20.0
""")
    order = ToleranceOrder(
        str(path), "0.035mm", points=32, thickness_percent=0.0, stiffness_percent=0.0, store=tmp_path / "t.sqlite",
        out=tmp_path / "out", means=Means(1, solver=stand_in.at_once), manner=stand_in.SILENT,
    )  # fmt: skip
    assert run_tolerance(order, Narrator(io.StringIO())) == PARTLY_FAILED
    assert "more without a result" in capsys.readouterr().out

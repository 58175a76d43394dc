"""What the live page says of a rim's width, where a band can be told and where only one width can."""

from __future__ import annotations

import numpy as np
import pytest

from labrum.cases.case_file.reading import read_case
from labrum.cases.exploring.asks import widths
from labrum.reports.sweeps.findings import BandCurve, BandEnd


@pytest.mark.parametrize(
    ("narrow", "wide", "one", "said"),
    [
        (0.5, 1.0, None, "is too narrow for this lip"),
        (-1.0, -0.5, None, "is wider than pays"),
        (-0.5, 0.5, None, "is wide enough; more still pays, up to"),
        (0.1, 0.2, (-0.1, 0.4), "is about wide enough: from"),
        (0.5, 0.6, (0.3, 0.7), "is too narrow for this lip under this force: 0.3 mm more take the peak off its edges"),
        (-0.5, -0.6, (-0.7, -0.3), "is wider than pays"),
    ],
)
def test_the_rims_own_width_is_judged(
    monkeypatch: pytest.MonkeyPatch, narrow: float, wide: float, one: tuple[float, float] | None, said: str
) -> None:
    """Ends are given by how far they lie above the rim's own width."""
    case = read_case("demo")
    own = float(case.resolved["rim"]["width_mm"])
    ends = [BandEnd(own + x, own + x - 0.02, own + x + 0.02) for x in (narrow, wide)]
    about = None if one is None else BandEnd(own + sum(one) / 2, own + one[0], own + one[1])
    line = np.linspace(own - 1.5, own + 1.5, 4)
    curve = BandCurve("", line, line, None, None, line, line, *ends, about)
    monkeypatch.setattr(widths, "_pressed", lambda case, tell: [])
    monkeypatch.setattr(widths, "bands", lambda groups, criteria: [curve])
    answer = widths.how_wide(case, {}, lambda *told: None)
    assert said in " ".join(answer.words)

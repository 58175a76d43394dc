"""Colours that everybody can tell apart, and a style that leaves no trace."""

from __future__ import annotations

import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from itertools import combinations, pairwise

import matplotlib
import numpy as np
import pytest
from matplotlib.colors import to_rgb

from labrum.reports.figures.pressure import pressure_figure
from labrum.reports.house_style import style
from labrum.reports.house_style.saving import as_bytes

# Machado, Oliveira and Fernandes 2009, IEEE Trans. Vis. Comput. Graph. 15:1291, full severity; from memory.
DICHROMACIES = {
    "protanopia": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deuteranopia": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritanopia": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}
SIGHTS = {"normal": np.eye(3), **{name: np.array(matrix) for name, matrix in DICHROMACIES.items()}}


def linear(colour):
    """Light of a colour, from its sRGB code (IEC 61966-2-1)."""
    code = np.array(to_rgb(colour))
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)


def luminance(light):
    return float(np.dot([0.2126, 0.7152, 0.0722], light))


def contrast(one, other):
    """WCAG 2.1's contrast ratio, from memory."""
    dark, light = sorted((luminance(linear(one)), luminance(linear(other))))
    return (light + 0.05) / (dark + 0.05)


def lab(light):
    """CIE 1976 L*a*b* under D65, from linear sRGB light."""
    to_xyz = [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ]
    x, y, z = np.array(to_xyz) @ light / [0.95047, 1.0, 1.08883]
    fx, fy, fz = (np.cbrt(v) if v > 216 / 24389 else (24389 / 27 * v + 16) / 116 for v in (x, y, z))
    return np.array([116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)])


def seen(colour, sight):
    return lab(np.clip(SIGHTS[sight] @ linear(colour), 0.0, 1.0))


def test_the_yardsticks_hold_on_what_is_known():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    # The lightest grey that passes for text on white is #767676 (4.54): WCAG guides, from memory.
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)
    assert lab(linear("#ffffff")) == pytest.approx([100.0, 0.0, 0.0], abs=0.02)
    # Red in L*a*b*: 53.24, 80.09, 67.20; from memory.
    assert lab(linear("#ff0000")) == pytest.approx([53.24, 80.09, 67.20], abs=0.05)
    for matrix in DICHROMACIES.values():
        assert np.array(matrix).sum(axis=1) == pytest.approx(1.0, abs=2e-6), "grey must stay grey"


def test_the_dichromacies_confuse_what_they_should():
    red, green = "#c03030", "#707000"
    apart = {sight: np.linalg.norm(seen(red, sight) - seen(green, sight)) for sight in SIGHTS}
    assert apart["deuteranopia"] < 0.45 * apart["normal"]
    assert apart["tritanopia"] > 0.8 * apart["normal"]


@pytest.mark.parametrize("ink", [style.INK, style.QUIET])
def test_words_stand_out_from_paper(ink):
    assert contrast(ink, style.PAPER) >= 4.5


@pytest.mark.parametrize("mark", [*(s.colour for s in style.SERIES), style.PRESSURE])
def test_marks_stand_out_from_paper(mark):
    assert contrast(mark, style.PAPER) >= 3.0


def test_pressure_and_metal_stand_out_from_what_they_lie_on():
    for ground in (*style.LAYERS, style.PRESSURE_FILL, style.METAL, style.PAST_BITE):
        assert contrast(style.PRESSURE, ground) >= 3.0
        assert contrast(style.INK, ground) >= 4.5


@pytest.mark.parametrize("sight", SIGHTS)
def test_every_two_rims_differ_in_colour_to_every_sight(sight):
    # A difference of 2.3 is the least one sees side by side (Mahy et al. 1994, from memory); lines lie apart.
    for one, other in combinations(style.SERIES, 2):
        assert np.linalg.norm(seen(one.colour, sight) - seen(other.colour, sight)) > 20.0


def test_every_two_rims_differ_in_grey_in_dashes_and_in_marker():
    greys = sorted(seen(s.colour, "normal")[0] for s in style.SERIES)
    assert min(b - a for a, b in pairwise(greys)) > 8.0
    assert len({str(s.dashes) for s in style.SERIES}) == len(style.SERIES) == 6
    assert len({s.marker for s in style.SERIES}) == 6


def test_the_map_for_amounts_only_darkens_and_the_signed_one_darkens_both_ways():
    amounts = [seen(c, "normal")[0] for c in matplotlib.colormaps[style.SEQUENTIAL](np.linspace(0, 1, 64))]
    assert np.all(np.diff(amounts) < 0.0)
    signed = np.array([seen(c, "normal")[0] for c in matplotlib.colormaps[style.DIVERGING](np.linspace(0, 1, 65))])
    assert abs(int(np.argmax(signed)) - 32) <= 1
    assert np.all(np.diff(signed[:32]) > -0.3)
    assert np.all(np.diff(signed[33:]) < 0.3)


def test_the_callers_settings_neither_change_nor_matter(outcome):
    usual = as_bytes(pressure_figure(outcome, "A rim"), "svg")
    with matplotlib.rc_context({"font.size": 21.0, "svg.hashsalt": "other", "axes.grid": False}):
        before = dict(matplotlib.rcParams)
        assert as_bytes(pressure_figure(outcome, "A rim"), "svg") == usual
        assert dict(matplotlib.rcParams) == before


def test_threads_draw_the_same_as_one_alone(outcome):
    titles = [f"Rim {n}" for n in range(4)]

    def drawn(title):
        return as_bytes(pressure_figure(outcome, title), "svg")

    before = dict(matplotlib.rcParams)
    with ThreadPoolExecutor(4) as pool:
        assert list(pool.map(drawn, titles)) == [drawn(title) for title in titles]
    assert dict(matplotlib.rcParams) == before


def test_nothing_here_loads_pyplot():
    code = (
        "import sys, labrum.reports.house_style.saving;"
        "from labrum.reports.figures import animation, catalogue, side_by_side;"
        "sys.exit('matplotlib.pyplot' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0

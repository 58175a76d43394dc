"""Traces as they come: shuffled, doubled, with strays and gaps, tilted, off the axis, upside down."""

from __future__ import annotations

import numpy as np
import pytest

from labrum.meshes.traces.ordering import ordered
from labrum.meshes.traces.raw_trace import TraceError
from labrum.meshes.traces.trace import rim_of_points
from tests import gauge_rims


def told(measured, part: str) -> bool:
    return any(part in note for note in measured.notes)


def near(measured, rim, within: float = 0.02) -> bool:
    off = (measured.rim.bite[0] - rim.bite[0], measured.rim.outer_radius - rim.outer_radius,
           measured.rim.high_point_radius - rim.high_point_radius)
    return bool(np.abs(off).max() < within)


def test_shuffled_doubled_and_spoilt_points_are_put_right_and_said() -> None:
    rim = gauge_rims.plain_rim()
    points = gauge_rims.sampled(rim)
    rng = np.random.default_rng(7)
    mess = np.vstack([points, points[100:140], points[300:305] + np.array([0.4, 0.5])])
    measured = rim_of_points(rng.permutation(mess))
    assert near(measured, rim)
    assert told(measured, "not in the order of travel")
    assert told(measured, "40 points that stood there twice")
    assert told(measured, "5 stray points")


def test_order_does_not_depend_on_the_file() -> None:
    t = np.linspace(0.0, 3.0, 400)
    line = np.column_stack([t, np.sin(t)])
    mixed = np.random.default_rng(0).permutation(400)
    found = ordered(line[mixed])
    places = line[mixed][found.source, 0]
    assert (np.diff(places) > 0).all() or (np.diff(places) < 0).all()


def test_both_halves_give_back_axis_and_tilt() -> None:
    rim = gauge_rims.plain_rim()
    points = gauge_rims.laid(gauge_rims.both_halves(rim, spacing=0.04), 14.2, 0.8, 3.0)
    measured = rim_of_points(points, "anywhere")
    assert near(measured, rim)
    assert told(measured, "both halves")
    axis = next(float(n.split("= ")[1].split()[0]) for n in measured.notes if "axis moved" in n)
    tilt = next(float(n.split()[2]) for n in measured.notes if "tilt of" in n)
    # A leaning axis stands beside its foot by the height of the bite's frame times the lean; read at the level
    # of the high points it stands where it was put.
    assert axis == pytest.approx(14.2, abs=0.01)
    assert abs(tilt) == pytest.approx(0.8, abs=0.02)


def test_halves_that_differ_are_said_to() -> None:
    round_, wide = gauge_rims.plain_rim(), gauge_rims.plain_rim(inner_diameter_mm=16.6)
    left = gauge_rims.sampled(wide, 1, spacing=0.04) * (-1.0, 1.0)
    measured = rim_of_points(np.vstack([left, gauge_rims.sampled(round_, 2, spacing=0.04)]), "anywhere")
    # Moving the axis by half of the radii's difference makes the halves alike: 0.05 mm wider as a whole.
    assert 2 * measured.rim.bite[0] == pytest.approx(16.55, abs=0.02)


def test_out_of_round_shows_between_the_halves() -> None:
    rim, blunt = gauge_rims.plain_rim(), gauge_rims.plain_rim(shoulder_radius_mm=2.1)
    left = gauge_rims.sampled(blunt, 1, spacing=0.04) * (-1.0, 1.0)
    measured = rim_of_points(np.vstack([left, gauge_rims.sampled(rim, 2, spacing=0.04)]), "anywhere")
    note = next(n for n in measured.notes if "halves differ" in n)
    assert 0.03 < float(note.split(" by ")[1].split()[0]) < 0.2
    assert float(note.split("r = ")[1].split()[0]) > 12.0


@pytest.mark.parametrize(("turn", "said"), [
    ((1.0, -1.0), "turned over"), ((-1.0, 1.0), "at negative r: mirrored"), ((1.0, 1.0), "grows away from the lip")])
def test_either_way_up_and_either_side(turn: tuple[float, float], said: str) -> None:
    rim = gauge_rims.plain_rim()
    measured = rim_of_points(gauge_rims.sampled(rim, spacing=0.04) * turn + (0.0, 5.0))
    assert near(measured, rim)
    assert told(measured, said)
    assert told(measured, "tilt and offset cannot be told")


def test_a_gap_elsewhere_is_told() -> None:
    rim = gauge_rims.plain_rim()
    points = gauge_rims.sampled(rim)
    keep = ~((points[:, 1] > 3.0) & (points[:, 1] < 5.0) & (points[:, 0] < 9.0))
    measured = rim_of_points(points[keep])
    assert near(measured, rim)
    assert told(measured, "nothing measured from")
    assert measured.gaps.shape == (1, 2, 2)


@pytest.mark.parametrize(("low", "high", "name"), [(7.9, 8.7, "the bite point"), (10.1, 11.2, "the high point")])
def test_a_gap_over_bite_or_high_point_is_refused(low: float, high: float, name: str) -> None:
    points = gauge_rims.sampled(gauge_rims.plain_rim())
    keep = (points[:, 0] < low) | (points[:, 0] > high) | (points[:, 1] > 2.5)
    with pytest.raises(TraceError, match=f"a gap of .* over {name}"):
        rim_of_points(points[keep])


def test_one_half_of_x_is_refused() -> None:
    with pytest.raises(TraceError, match="x on one side of the axis only"):
        rim_of_points(gauge_rims.sampled(gauge_rims.plain_rim()), "anywhere")


@pytest.mark.parametrize(("points", "got"), [
    (np.column_stack([np.linspace(5, 15, 200), np.linspace(0, 4, 200) ** 2]), "only rises or only falls"),
    (np.column_stack([np.linspace(5, 15, 200), np.full(200, 1.0)]), "one straight line"),
    (np.column_stack([np.linspace(5, 15, 500), np.cos(np.linspace(0, 40, 500))]), "high points one way up"),
])
def test_what_is_no_rim_is_refused_with_a_reason(points: np.ndarray, got: str) -> None:
    with pytest.raises(TraceError, match=got):
        rim_of_points(points)


def test_a_cloud_is_refused() -> None:
    with pytest.raises(TraceError):
        rim_of_points(np.random.default_rng(0).uniform(5.0, 15.0, (800, 2)))


def test_points_too_far_apart_are_refused() -> None:
    with pytest.raises(TraceError, match=r"stand .* mm off any line"):
        rim_of_points(gauge_rims.sampled(gauge_rims.plain_rim(), spacing=1.5))


def test_ten_thousand_points_are_averaged_not_dropped() -> None:
    rim = gauge_rims.plain_rim()
    measured = rim_of_points(gauge_rims.sampled(rim, spacing=rim.curve.length / 10_000))
    assert measured.measured == 10_000
    assert len(measured.points) < 2500
    # Each of the fewer points stands for several: the noise of one measured point is what is told.
    assert measured.fit.noise == pytest.approx(gauge_rims.NOISE_MM, rel=0.1)
    assert near(measured, rim, 0.015)


def test_a_trace_that_ends_on_the_crown_says_so() -> None:
    points = gauge_rims.sampled(gauge_rims.plain_rim())
    measured = rim_of_points(points[points[:, 1] < 1.2])
    assert told(measured, "not measured out to where the outside stands upright")
    assert not told(rim_of_points(points), "not measured out")


def test_a_bite_sharper_than_the_points_is_said_to_be() -> None:
    measured = rim_of_points(gauge_rims.sampled(gauge_rims.plain_rim(bite_radius_mm=0.02), spacing=0.05))
    assert told(measured, "as sharp as the points can tell")
    assert 2 * measured.rim.bite[0] == pytest.approx(16.5, abs=0.04)


def test_waviness_is_told_from_noise() -> None:
    rim = gauge_rims.plain_rim()
    along = np.arange(0.01, rim.curve.length, 0.02)
    waves = (0.004 * np.sin(2 * np.pi * along / 1.3))[:, None] * rim.curve.normal_at(along)
    noise = 0.001 * np.random.default_rng(0).standard_normal((len(along), 2))
    measured = rim_of_points(rim.curve.at(along) + waves + noise)
    assert told(measured, "wavier than its noise")
    assert 2 * measured.rim.bite[0] == pytest.approx(16.5, abs=0.05)

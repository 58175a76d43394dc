"""The compiled contact search against `labrum.meshes.curves.curve.Curve.nearest`, on chains of every kind."""

from __future__ import annotations

import numpy as np
import pytest

from labrum.meshes.curves.curve import Curve
from labrum.simulate.compiled.loading import KINDS, extension, load
from labrum.simulate.compiled.search import Chain, nearest
from labrum.simulate.contact.signorini import Pair

pytestmark = pytest.mark.skipif(extension() is None, reason="no compiled kernels were built")
CHAINS = {
    "line": [(0.0, 0.0, 0.0), (3.0, 1.0, 0.0)],
    "convex and concave arcs": [(0.0, 2.0, 0.2), (1.0, 0.0, -0.3), (2.5, 0.0, 0.4), (4.0, 1.5, 0.0)],
    "corners": [(0.0, 2.0, 0.0), (1.0, 0.0, 0.0), (2.0, 1.0, 0.0), (3.0, 0.0, 0.1), (4.0, 2.0, 0.0)],
    "all but flat crown": [(0.0, 1.0, 0.0), (1.0, 0.0, 1e-7), (3.0, 0.0, 0.0), (4.0, 1.0, 0.0)],
}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", CHAINS)
def test_what_is_seen_is_what_numpy_sees(kind: str, name: str) -> None:
    library, curve = load(kind), Curve.from_vertices(CHAINS[name])
    if library is None:
        pytest.skip("this processor cannot run them")
    points = np.random.default_rng(7).uniform([-2.0, -2.0], [6.0, 4.0], (5000, 2))
    expected, found = curve.nearest(points + np.array([0.0, 0.25])), nearest(library, Chain.of(curve), points, 0.25)
    np.testing.assert_array_equal(found.piece, expected.piece)
    for field in ("distance", "foot", "normal", "arc_length"):
        np.testing.assert_allclose(getattr(found, field), getattr(expected, field), rtol=1e-12, atol=1e-12)
    np.testing.assert_allclose(found.hessian, expected.hessian, rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize("kind", KINDS)
def test_points_on_corners_and_centres_see_numbers(kind: str) -> None:
    library, curve = load(kind), Curve.from_vertices(CHAINS["corners"])
    if library is None:
        pytest.skip("this processor cannot run them")
    points = np.vstack([curve.start, curve.end, curve.centre[curve.is_arc]])
    expected, found = curve.nearest(points), nearest(library, Chain.of(curve), points, 0.0)
    np.testing.assert_allclose(found.distance, expected.distance, atol=1e-12)
    assert all(np.isfinite(getattr(found, field)).all() for field in vars(found))


def test_a_pair_sees_the_same_with_and_without_kernels() -> None:
    curve, nodes = Curve.from_vertices(CHAINS["convex and concave arcs"]), np.arange(40)
    places = np.column_stack([np.linspace(-1.0, 5.0, 40), np.full(40, -0.3)])
    seen = [Pair("rim", curve, nodes, True, 0.0, library).look(places, 0.5) for library in (load("portable"), None)]
    np.testing.assert_allclose(seen[0].distance, seen[1].distance, atol=1e-13)
    still = Pair("teeth", curve, nodes, False, 0.0, load("portable")).look(places, 0.5)
    np.testing.assert_allclose(still.distance, curve.nearest(places).distance, atol=1e-13)

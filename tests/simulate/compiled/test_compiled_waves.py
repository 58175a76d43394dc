"""The compiled kernels of waves against those of numpy, on random states."""

from __future__ import annotations

import numpy as np
import pytest

from labrum.simulate.compiled.loading import extension
from labrum.simulate.off_axis.condensing import Reduced
from labrum.simulate.off_axis.waves import Waves, circle_share
from labrum.simulate.tissue.condensation import regularised_bulk
from tests.simulate.compiled.test_compiled_elements import (  # noqa: F401
    assert_close,
    elements_of,
    library,
    mesh,
    random_state,
)

pytestmark = pytest.mark.skipif(extension() is None, reason="no compiled kernels were built")


@pytest.mark.parametrize("poisson", [0.3, 0.5])
@pytest.mark.parametrize("order", [0, 1, 2, 5])
def test_condensed_waves_are_those_of_numpy(mesh, library, poisson, order):  # noqa: F811
    u, p = random_state(mesh)
    ours, plain = (Waves.about(elements_of(mesh, k, poisson), u, p) for k in (library, None))
    elements = plain.elements
    bulk = regularised_bulk(elements.mass, elements.tissue.inverse_bulk, elements.tissue.shear) / circle_share(order)
    found, expected = (Reduced.about(k, order, bulk) for k in (ours, plain))
    for name in ("coupling", "inverse", "rows", "squeeze"):
        assert_close(getattr(found, name), getattr(expected, name))
    # the centre node takes with it almost all of what resists a change of volume: rounding is that of what was there
    before = np.abs(expected.squeeze @ expected.coupling.swapaxes(1, 2)).max()
    assert np.abs(found.stiffness - expected.stiffness).max() < 1e-12 * before
    np.testing.assert_array_equal(found.stiffness, found.stiffness.swapaxes(1, 2))


def test_stress_and_both_tangents_are_those_of_numpy(mesh, library):  # noqa: F811
    u, p = random_state(mesh)
    ours, plain = (Waves.about(elements_of(mesh, k), u, p) for k in (library, None))
    assert_close(ours.stress, plain.stress)
    for found, expected in zip(ours.tangent, plain.tangent, strict=True):
        assert_close(found, expected)

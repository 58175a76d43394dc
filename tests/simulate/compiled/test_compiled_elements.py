"""The compiled element kernels against those of numpy, on random states; products and sums against plain loops."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from labrum.simulate.compiled.loading import KINDS, extension, load
from labrum.simulate.tissue.condensation import condensed_system, regularised_bulk, with_interior
from labrum.simulate.tissue.elements import Elements
from labrum.simulate.tissue.neo_hookean import StiffeningNeoHookean
from tests import bodies

pytestmark = pytest.mark.skipif(extension() is None, reason="no compiled kernels were built")


@pytest.fixture(params=KINDS)
def library(request):
    found = load(request.param)
    if found is None:
        pytest.skip("this processor cannot run them")
    return found


@pytest.fixture(params=[(1, 1), (3, 2), (5, 4)], ids=str)
def mesh(request):
    """Grids whose number of elements is and is not a multiple of what goes into a register."""
    columns, rows = request.param
    random = np.random.default_rng(columns)
    across, along = (np.concatenate([[0.0], np.cumsum(random.uniform(0.2, 1.0, k))]) for k in (columns, rows))
    return bodies.grid(across, along - along[-1])


def elements_of(mesh, library, poisson=0.45):
    """Every element with constants of its own, and an active stress that differs from point to point."""
    random = np.random.default_rng(3)
    tissue = bodies.tissue(len(mesh.quads), 1.0, poisson, 0.3, 0.1)
    shape = tissue.shear.shape
    tissue = replace(
        tissue,
        shear=random.uniform(0.5, 2.0, shape),
        second=random.uniform(0.0, 1.0, shape),
        third=random.uniform(0.0, 0.5, shape),
        active=random.uniform(0.0, 0.5, (len(mesh.quads), 9)),
    )
    return Elements(mesh, tissue, library=library)


def random_state(mesh, seed=1):
    """Strains of some tenths, nothing turned inside out; the axis stays where it is."""
    random = np.random.default_rng(seed)
    u = 0.02 * random.uniform(-1.0, 1.0, mesh.nodes.shape) + 0.2 * np.sin(mesh.nodes)
    u[mesh.nodes[:, 0] == 0.0, 0] = 0.0
    return u, 0.3 * random.uniform(-1.0, 1.0, (len(mesh.quads), 3))


def assert_close(found, expected):
    """To 1e-12 of the largest entry."""
    np.testing.assert_allclose(found, expected, rtol=0.0, atol=1e-12 * max(np.abs(expected).max(), 1e-300))


def test_forces_are_those_of_numpy(mesh, library):
    ours, plain = (elements_of(mesh, k) for k in (library, None))
    u, p = random_state(mesh)
    assert plain.smallest_ratio(u) > 0.2
    found, expected = ours.forces(u, p), plain.forces(u, p)
    assert_close(found.force, expected.force)
    assert_close(found.volume, expected.volume)
    assert found.smallest_ratio == pytest.approx(expected.smallest_ratio, rel=1e-13)
    assert ours.smallest_ratio(u) == pytest.approx(expected.smallest_ratio, rel=1e-13)


@pytest.mark.parametrize("poisson", [0.3, 0.5])
def test_condensed_systems_are_those_of_numpy(mesh, library, poisson):
    ours, plain = (elements_of(mesh, k, poisson) for k in (library, None))
    bulk = regularised_bulk(plain.mass, plain.tissue.inverse_bulk, plain.tissue.shear)
    u, p = random_state(mesh)
    (forces, found), (plain_forces, expected) = (condensed_system(k, u, p, bulk) for k in (ours, plain))
    assert_close(forces.force, plain_forces.force)
    for name in ("stiffness", "force", "coupling", "centre_inverse", "centre_rows", "centre_force", "volume"):
        assert_close(getattr(found, name), getattr(expected, name))
    np.testing.assert_array_equal(found.stiffness, found.stiffness.swapaxes(1, 2))
    step = random_state(mesh, seed=2)[0]
    for mine, theirs in zip(with_interior(ours, found, step), with_interior(plain, expected, step), strict=True):
        assert_close(mine, theirs)


def test_an_element_turned_inside_out_gives_no_number(mesh, library):
    """As with numpy, where a negative volume has no power: it must not pass for a force."""
    elements = elements_of(mesh, library)
    u, p = random_state(mesh)
    u[mesh.quads[-1, 8]] += 3.0
    assert elements.smallest_ratio(u) < 0.0
    assert not np.isfinite(elements.forces(u, p).force).all()


def test_products_and_sums_are_those_of_plain_loops(mesh, library):
    random = np.random.default_rng(5)
    count, elements = len(mesh.nodes), elements_of(mesh, library)
    blocks, x = random.normal(size=(len(mesh.quads), 16, 16)), random.normal(size=(2, count, 2))
    chosen = random.uniform(size=count) < 0.2
    for which in (None, chosen):
        expected = np.zeros_like(x)
        for nodes, block in zip(mesh.quads[:, :8], blocks, strict=True):
            if which is None or which[nodes].any():
                for side in range(2):
                    expected[side, nodes] += (block @ x[side, nodes].ravel()).reshape(8, 2)
        assert_close(elements.product(blocks, x, which), expected)
        assert_close(replace(elements, library=None).product(blocks, x, which), expected)
    parts, sums = random.normal(size=(len(mesh.quads), 9, 2)), np.zeros((count, 2))
    np.add.at(sums, mesh.quads, parts)
    assert_close(elements.nodal_sums(parts), sums)
    assert_close(replace(elements, library=None).nodal_sums(parts), sums)


def test_a_law_without_a_compiled_form_is_left_to_numpy(mesh, library):
    tissue = bodies.tissue(len(mesh.quads))
    other = replace(StiffeningNeoHookean(), compiled=None)
    assert Elements(mesh, tissue, library=library).compiled is not None
    assert Elements(mesh, tissue, other, library).compiled is None

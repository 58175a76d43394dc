"""What a converged solution hands over: measures, profiles, fields and the way there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from labrum.meshes.arrays import Floats, Ints
from labrum.meshes.rims.rim import Rim
from labrum.simulate.measures.catalogue import Measures

if TYPE_CHECKING:
    from labrum.simulate.postures.found import OffAxis


@dataclass(frozen=True)
class Contact:
    """The rim's side of the contact, one row a surface node from the axis outwards.

    ``place`` (n, 2) deformed (r, z) mm; ``normal`` (n, 2) unit, from the rim into the tissue; ``pressure_kpa`` (n,)
    Cauchy normal traction, zero off contact; ``shear_kpa`` (n,) tangential traction, positive outwards;
    ``on_rim`` (n,) true where a touching node lies on the rim, false on the cup wall.
    """

    place: Floats
    normal: Floats
    pressure_kpa: Floats
    shear_kpa: Floats
    on_rim: NDArray[np.bool_]


@dataclass(frozen=True)
class Section:
    """The meshed section: biquadratic quadrilaterals in the (r, z) half plane.

    ``rest`` and ``deformed`` (n, 2) mm; ``quads`` (e, 9) node numbers, corners anticlockwise, then midsides,
    then the centre (the order of meshio's ``quad9``); ``layer`` (e,) index into ``layer_names``, skin first;
    ``cauchy_kpa`` (n, 4) nodal Cauchy stress rr, zz, hoop, rz; ``stretch`` (n,) largest principal stretch.
    """

    rest: Floats
    deformed: Floats
    quads: Ints
    layer: Ints
    layer_names: tuple[str, ...]
    cauchy_kpa: Floats
    stretch: Floats


@dataclass(frozen=True)
class Mode:
    """A small oscillation about the equilibrium (see `labrum.simulate.living.vibration`).

    ``share`` is its part in the static answer to a pressure on the lip's front; ``shape`` (n, 2) the displacement of
    the section's nodes, its largest component 1.
    """

    frequency_hz: float
    share: float
    shape: Floats


@dataclass(frozen=True)
class StepRecord:
    """One accepted equilibrium on the way: ``residuals`` holds the relative residual after each iteration.

    ``chords`` is how many of the last iterations went by the matrix of the one before them.
    """

    stage: str
    force_n: float
    sink_mm: float
    unknowns: int
    iterations: int
    residuals: tuple[float, ...]
    contact_changes: tuple[int, ...]
    chords: int = 0


@dataclass(frozen=True)
class Outcome:
    """A converged press of a rim into a lip.

    ``rim`` in its own frame (r, s): in the solution it stands at z = s - sink_mm. ``pressure_profile`` (n, 2):
    deformed radius mm ascending and pressure kPa, zero at both ends. ``lip_surface`` (n, 3): r at rest, r, z in
    mm. ``off_axis`` where a posture was asked about; ``mode`` is the oscillation that the front's pressure drives best,
    None where nobody asked or there is none; ``tooth_gap_mm`` the radius within which no teeth stand behind the lip.
    """

    rim: Rim
    measures: Measures
    force_n: float
    pressure_profile: Floats
    lip_surface: Floats
    contact: Contact
    section: Section
    history: tuple[StepRecord, ...]
    unknowns: int
    newton_iterations: int
    solve_seconds: float
    largest_penetration_mm: float
    warnings: tuple[str, ...]
    off_axis: OffAxis | None = None
    mode: Mode | None = None
    tooth_gap_mm: float = 0.0

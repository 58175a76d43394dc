"""What a converged solution hands over: measures, profiles, fields and the way there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labrum.meshes.arrays import Floats, Ints
from labrum.meshes.rims.rim import Rim


@dataclass(frozen=True)
class Measures:
    """The numbers read off a solution; ``None`` where a measure does not apply to the case.

    Units stand in the names: mm, mm2, mm3, kPa, percent; ratios have none. ``sticking_share`` is the share of the
    rim's normal load on nodes that stick (None without friction); ``lift_off_area_mm2`` the area of the back face,
    outside the tooth gap, that has left the teeth (None where it is bonded).

    With a muscle that contracts, rim on over rim off: ``closing_travel_ratio`` inward travel of the opening's narrowest
    place, ``closing_travel_ratio_skin`` that of its margin at the skin over the former's with the rim off,
    ``muscle_shortening_ratio`` the fibres' shortening (see `labrum.simulate.living.contraction`).

    ``aperture_stiffness_n_per_mm`` (see `labrum.simulate.readings.aperture`) is None without an opening.
    ``edge_drift_mm_per_10n`` is twice what the radius where contact with the rim begins falls by when the force rises
    by 10 N, None once contact goes on up the cup's wall. ``edge_to_crown_pressure`` is the peak on bite and shoulder
    over that on the crown's middle 70 % (see `labrum.simulate.readings.rim_edges`). ``height_past_high_point_mm`` is
    the tissue's crest over the high point's plane, ``height_by_muscle_mm`` the part of it that came with contraction;
    the rest came with pressing and breath. ``cup_wall_reach_mm`` is the arc length of the cup that tissue touches (None
    where no cup is drawn).
    """

    peak_pressure_kpa: float
    peak_radius_mm: float
    peak_pressure_error_percent: float
    mean_pressure_kpa: float
    contact_area_mm2: float
    bearing_area_mm2: float
    edge_concentration: float
    skin_stretch_max: float
    contact_inner_radius_mm: float
    contact_outer_radius_mm: float
    felt_diameter_mm: float
    felt_drift_mm_per_10n: float | None
    sink_mm: float
    past_bite: bool
    intrusion_height_mm: float
    intrusion_volume_mm3: float
    drawn_in_volume_mm3: float
    touches_cup: bool | None
    cup_clearance_mm: float | None
    closing_travel_ratio: float | None
    sticking_share: float | None = None
    lift_off_area_mm2: float | None = None
    closing_travel_ratio_skin: float | None = None
    muscle_shortening_ratio: float | None = None
    aperture_stiffness_n_per_mm: float | None = None
    edge_drift_mm_per_10n: float | None = None
    edge_to_crown_pressure: float | None = None
    height_past_high_point_mm: float | None = None
    height_by_muscle_mm: float | None = None
    cup_wall_reach_mm: float | None = None


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
class StepRecord:
    """One accepted equilibrium on the way: ``residuals`` holds the relative residual after each iteration."""

    stage: str
    force_n: float
    sink_mm: float
    unknowns: int
    iterations: int
    residuals: tuple[float, ...]
    contact_changes: tuple[int, ...]


@dataclass(frozen=True)
class Outcome:
    """A converged press of a rim into a lip.

    ``rim`` in its own frame (r, s): in the solution it stands at z = s - sink_mm. ``pressure_profile`` (n, 2):
    deformed radius mm ascending and pressure kPa, zero at both ends. ``lip_surface`` (n, 3): r at rest, r, z in
    mm.
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

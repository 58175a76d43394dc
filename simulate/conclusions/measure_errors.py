"""How far two measures must lie apart to be told apart.

Only the peak has an error estimate of its own. The others' doubts come from the same estimate, as a share of it, or
are lengths, volumes and ratios of a fixed size: about twice the largest change seen when the shipped cases were
solved again with a quarter of the peak's error allowed, and the living lip also on a load path of four times the
unknowns. Integrals such as the felt diameter moved by thousandths of a millimetre there, pressures by tenths of a
percent. This is the mesh's part alone; what the model leaves out is no smaller for it.
"""

from __future__ import annotations

from labrum.simulate.outcome import Measures

SHARE_OF_PEAK_ERROR = {
    "peak_pressure_kpa": 1.0,
    "edge_concentration": 1.0,
    "skin_stretch_max": 0.8,
    "mean_pressure_kpa": 0.8,
    "contact_area_mm2": 0.8,
    "bearing_area_mm2": 0.2,
    "edge_to_crown_pressure": 1.0,
}
"""Of the peak's estimated percentage, for measures that rest on pressure or on where contact ends."""

FIXED = {
    "peak_radius_mm": 0.04,
    "contact_inner_radius_mm": 0.015,
    "contact_outer_radius_mm": 0.015,
    "felt_diameter_mm": 0.01,
    "felt_drift_mm_per_10n": 0.005,
    "sink_mm": 0.002,
    "intrusion_height_mm": 0.003,
    "intrusion_volume_mm3": 0.1,
    "drawn_in_volume_mm3": 0.05,
    "cup_clearance_mm": 0.003,
    "closing_travel_ratio": 0.004,
    "closing_travel_ratio_skin": 0.002,
    "muscle_shortening_ratio": 0.003,
    "aperture_stiffness_n_per_mm": 0.1,
    "edge_drift_mm_per_10n": 0.05,  # contact vanishes gently: where it begins is hard to tell
    "height_past_high_point_mm": 0.003,
    "height_by_muscle_mm": 0.007,
    "cup_wall_reach_mm": 0.025,
    "sticking_share": 0.05,  # a node more or less: what two grids differ by
    "lift_off_area_mm2": 20.0,  # one column of the coarse outer grid
}


def doubt(measures: Measures, name: str) -> float:
    """Estimated error of one measure, in its own unit; `KeyError` where it has none, as a yes or no."""
    if name in FIXED:
        return FIXED[name]
    value: float = getattr(measures, name)
    return 0.01 * SHARE_OF_PEAK_ERROR[name] * measures.peak_pressure_error_percent * value


def higher(first: Measures, second: Measures, name: str) -> bool | None:
    """Is the first's measure the higher; None where they differ by no more than both errors, or one is missing."""
    here, there = getattr(first, name), getattr(second, name)
    if here is None or there is None or abs(here - there) <= doubt(first, name) + doubt(second, name):
        return None
    return bool(here > there)

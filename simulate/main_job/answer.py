"""What is told: an outcome, with the measures of one equilibrium and those that took more."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from labrum.simulate.accuracy.refinement import Refined
from labrum.simulate.equilibrium.traction import Traction, traction
from labrum.simulate.living.vibration import Liveliness
from labrum.simulate.load_path.adaptive_grid import surface_samples
from labrum.simulate.load_path.press import Pressed
from labrum.simulate.main_job.beside import Living
from labrum.simulate.main_job.drifts import Drift
from labrum.simulate.measures.catalogue import Measures
from labrum.simulate.outcome import Contact, Outcome
from labrum.simulate.problem import KPA_PER_MPA, Problem
from labrum.simulate.readings.fields import section_of
from labrum.simulate.readings.measures import measures_of
from labrum.simulate.readings.pressure import on_rim, profile


def outcome_of(
    problem: Problem,
    refined: Refined,
    drift: Drift,
    living: Living,
    lively: Liveliness,
    warnings: tuple[str, ...],
) -> Outcome:
    """What is told; what it took is counted by whoever asked."""
    model, state = refined.finest.model, refined.finest.equilibrium.state
    grid, contact = model.elements.grid, traction(model, state)
    return Outcome(
        rim=problem.rim,
        measures=_measures(problem, refined, contact, drift, living, lively),
        force_n=refined.finest.equilibrium.force,
        pressure_profile=profile(contact),
        lip_surface=np.column_stack([grid.nodes[grid.surface, 0], contact.place]),
        contact=_contact(problem, contact),
        section=section_of(model, state, tuple(layer.name for layer in problem.lip.layers)),
        history=refined.finest.history,
        unknowns=model.unknowns,
        newton_iterations=0,
        solve_seconds=0.0,
        largest_penetration_mm=_penetration(problem, refined.finest),
        warnings=warnings,
        mode=lively.mode,
        tooth_gap_mm=problem.lip.tooth_gap_radius,
    )


def _measures(
    problem: Problem, refined: Refined, contact: Traction, drift: Drift, living: Living, lively: Liveliness
) -> Measures:
    """What the answer's equilibrium tells by itself, and what took more than one."""
    alone = measures_of(problem, refined.finest.model, refined.finest.equilibrium.state, contact)
    more = replace(
        alone,
        peak_pressure_error_percent=refined.error_percent,
        felt_drift_mm_per_10n=drift.felt,
        edge_drift_mm_per_10n=drift.edge,
        lip_compliance_um_per_kpa=lively.compliance,
        lip_mode_hz=lively.mode.frequency_hz if lively.mode else None,
    )
    if living.contraction is None or living.freedom is None:
        return more
    return replace(
        more,
        height_by_muscle_mm=living.contraction.crest,
        closing_travel_ratio=living.freedom.aperture,
        closing_travel_ratio_skin=living.freedom.skin,
        muscle_shortening_ratio=living.freedom.shortening,
    )


def _contact(problem: Problem, contact: Traction) -> Contact:
    return Contact(
        place=contact.place,
        normal=contact.normal,
        pressure_kpa=KPA_PER_MPA * contact.pressure,
        shear_kpa=KPA_PER_MPA * contact.shear,
        on_rim=on_rim(problem.rim, contact),
    )


def _penetration(problem: Problem, pressed: Pressed) -> float:
    """Greatest depth, mm, of the tissue's surface inside the rim, between nodes included."""
    _, place = surface_samples(pressed.model, pressed.equilibrium.state)
    shifted = place + np.array([0.0, pressed.equilibrium.state.travel])
    return float(max(0.0, -problem.rim.curve.nearest(shifted).distance.min()))

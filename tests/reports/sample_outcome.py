"""An invented outcome to draw: a made-up deformation and pressure, nowhere solved, that look plausible."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.integrate import trapezoid

from labrum.meshes.arrays import Floats, Ints
from labrum.meshes.rims.rim import Rim, RimDimensions, rim_from_dimensions
from labrum.simulate.measures.catalogue import Measures
from labrum.simulate.outcome import Contact, Mode, Outcome, Section, StepRecord
from tests.some_measures import some_measures

LIP_RADIUS = 25.0
LAYERS = (("skin", 1.2), ("core", 9.4), ("mucosa", 0.9))
THICKNESS = sum(thickness for _, thickness in LAYERS)


@dataclass(frozen=True)
class Invented:
    """What is made up: the force, the sink, how near its edges the rim touches, the middle's height."""

    force: float = 20.0
    sink: float = 3.0
    inside_bite: float = 0.08
    outer_share: float = 0.78
    middle: float = -0.6
    edginess: float = 10.0
    opening: float = 0.0


DEMO = RimDimensions(16.5, 5.2, 0.45, 0.6, 6.0, 8.0, 1.8, 60.0, 10.0)


def demo_rim(**changes: float) -> Rim:
    """A rim of invented but usual dimensions, some of them changed."""
    return rim_from_dimensions(replace(DEMO, **changes))


def refined(lines: Floats) -> Floats:
    """Insert the midpoints."""
    return np.sort(np.concatenate([lines, (lines[1:] + lines[:-1]) / 2]))


def grid(opening: float, edges: tuple[float, float]) -> tuple[Floats, Ints, Ints, Ints]:
    """Nodes (n, 2), quads (e, 9), layers (e,) and surface nodes of a tensor grid, fine between two radii."""
    inner, outer = edges
    fine = [np.linspace(inner - 0.4, inner + 0.8, 17), np.linspace(inner + 0.8, outer + 0.4, 20)]
    r = np.unique(np.r_[np.linspace(opening, inner - 0.4, 14), *fine, np.geomspace(outer + 0.4, LIP_RADIUS, 12)])
    z = np.unique(np.r_[np.linspace(-11.5, -10.6, 2), np.linspace(-10.6, -1.2, 11), np.linspace(-1.2, 0.0, 5)])
    r, z = (lines[np.r_[True, np.diff(lines) > 1e-9]] for lines in (r, z))
    rr, zz = np.meshgrid(refined(r), refined(z), indexing="ij")
    tall = rr.shape[1]
    i, j = np.meshgrid(np.arange(len(r) - 1), np.arange(len(z) - 1), indexing="ij")
    first = (2 * i * tall + 2 * j).reshape(-1, 1)
    quads = first + np.array([0, 2 * tall, 2 * tall + 2, 2, tall, 2 * tall + 1, tall + 2, 1, tall + 1])
    layer = np.searchsorted(np.cumsum([t for _, t in LAYERS]), -(z[1:] + z[:-1]) / 2)[j].ravel()
    return np.column_stack([rr.ravel(), zz.ravel()]), quads, layer, np.arange(1, len(rr) + 1) * tall - 1


def face(rim: Rim, sink: float, r: Floats) -> Floats:
    """Height of the rim's face above radii within it."""
    line = rim.curve.sample(1e-4)
    return np.interp(r, line[:, 0], line[:, 1]) - sink


def surface_height(rim: Rim, made: Invented, edges: tuple[float, float], r: Floats) -> Floats:
    """Made-up height of the pressed lip: on the rim in contact, a bulge inside, a smooth rise outside."""
    inner, outer = edges
    at_inner, at_outer = face(rim, made.sink, np.array(edges))
    inside = made.middle + (at_inner - made.middle) * np.clip(r / inner, 0.0, 1.0) ** 7
    outside = at_outer * np.clip((LIP_RADIUS - r) / (LIP_RADIUS - outer), 0.0, 1.0) ** 3.5
    touching = face(rim, made.sink, np.clip(r, inner, outer))
    return np.where(r < inner, inside, np.where(r > outer, outside, touching))


def pressure_shape(made: Invented, edges: tuple[float, float], r: Floats) -> Floats:
    """Made-up pressure, not yet scaled: half an ellipse with a ridge near the bite."""
    share = np.clip((r - edges[0]) / (edges[1] - edges[0]), 0.0, 1.0)
    return np.sqrt(share * (1.0 - share)) * (1.0 + made.edginess * np.exp(-share / 0.08))


def ring_integral(r: Floats, f: Floats) -> float:
    """Integral of f over the full circle by the trapezium rule."""
    return float(2 * np.pi * trapezoid(f * r, r))


def deformed_grid(rim: Rim, made: Invented, edges: tuple[float, float], rest: Floats) -> Floats:
    """Made-up places: sideways shifts that vanish on the axis, heights that follow the surface."""
    r, z = rest.T
    depth = 1.0 + z / THICKNESS
    ring = np.exp(-(((r - edges[0]) / 2.2) ** 2)) - np.exp(-(((r - edges[1]) / 2.5) ** 2))
    across = r + depth * (0.25 * np.cos(2.2 * (1 - depth)) - 0.3 * np.sin(np.pi * depth)) * -ring * r / edges[0]
    height = surface_height(rim, made, edges, across)
    return np.column_stack([across, z + height * depth**1.3])


def stress(made: Invented, edges: tuple[float, float], place: Floats, rest: Floats, scale: float) -> Floats:
    """Made-up Cauchy stress (n, 4): the surface's pressure fading with depth, and some shear."""
    depth = -rest[:, 1]
    spread = np.exp(-depth / 4.0)
    p = scale * pressure_shape(made, edges, place[:, 0]) * spread
    wide = 0.3 * scale * np.exp(-(((place[:, 0] - np.mean(edges)) / 3.0) ** 2)) * depth / 6.0 * spread
    bulge = 0.12 * scale * np.exp(-((place[:, 0] / 4.0) ** 2)) * spread
    shear = 0.25 * scale * np.sin(np.pi * (place[:, 0] - edges[0]) / (edges[1] - edges[0])) * depth / 4.0
    shear = shear * np.exp(-depth / 3.0) * np.exp(-(((place[:, 0] - np.mean(edges)) / 3.0) ** 2))
    axial = -(p + wide)
    return np.column_stack([0.7 * axial + bulge, axial, 0.6 * axial + 1.3 * bulge, shear])


def stretch(edges: tuple[float, float], place: Floats, rest: Floats) -> Floats:
    """Made-up largest stretch (n,): most where the skin bends round the bite."""
    depth = -rest[:, 1]
    at_bite = np.exp(-(((place[:, 0] - edges[0]) / 1.5) ** 2)) * np.exp(-depth / 3.0)
    return 1.0 + 0.38 * at_bite + 0.05 * np.exp(-((rest[:, 0] - 10.0) ** 2) / 30.0)


def history(made: Invented) -> tuple[StepRecord, ...]:
    """Made-up way there: touch by displacement, then force in steps, each iteration squaring its residual."""
    shares = (0.02, 0.1, 0.25, 0.5, 0.75, 1.0)
    steps = []
    for share in shares:
        residuals = tuple(10.0 ** -(0.4 * 2.0**k) for k in range(6))
        stage = "approach" if share < 0.05 else "force"
        sink = made.sink * share**0.6
        steps.append(StepRecord(stage, made.force * share, sink, 12000, 6, residuals, (3, 2, 1, 0, 0, 0)))
    return tuple(steps)


def measures(
    rim: Rim, made: Invented, edges: tuple[float, float], profile: Floats, contact: Floats, surface: Floats
) -> Measures:
    """Read the numbers off what was made up, by the trapezium rule."""
    r, p = profile.T
    top = int(np.argmax(p))
    area = float(np.pi * (edges[1] ** 2 - edges[0] ** 2))
    plane = rim.bite[1] - made.sink
    inside = surface[:, 1] <= rim.bite[0]
    past = np.clip(surface[inside, 2] - plane, 0.0, None)
    return some_measures(
        peak_pressure_kpa=float(p[top]),
        peak_radius_mm=float(r[top]),
        peak_pressure_error_percent=0.6,
        mean_pressure_kpa=1e3 * made.force / area,
        contact_area_mm2=area,
        bearing_area_mm2=(1e3 * made.force) ** 2 / ring_integral(r, p**2),
        edge_concentration=float(p[top]) * area / (1e3 * made.force),
        skin_stretch_max=1.42,
        contact_inner_radius_mm=edges[0],
        contact_outer_radius_mm=edges[1],
        felt_diameter_mm=2 * ring_integral(r, p * r) / ring_integral(r, p),
        felt_drift_mm_per_10n=0.05,
        sink_mm=made.sink,
        past_bite=bool((past > 0).any()),
        intrusion_height_mm=float(past.max()),
        intrusion_volume_mm3=ring_integral(surface[inside, 1], past),
        drawn_in_volume_mm3=20.0,
        touches_cup=False,
        cup_clearance_mm=6.0,
        closing_travel_ratio=None,
    )


def swing(edges: tuple[float, float], rest: Floats) -> Floats:
    """Made-up vibration (n, 2): the middle goes up and down, nothing under the rim does."""
    lively = np.clip(1.0 - rest[:, 0] / edges[0], 0.0, 1.0)
    return np.column_stack([0.3 * lively * (rest[:, 1] / THICKNESS + 0.5), lively])


def invent(rim: Rim, made: Invented | None = None) -> Outcome:
    """Make up an outcome for a rim: it carries the force; all else is untrue."""
    made = made or Invented()
    edges = (
        rim.bite[0] - made.inside_bite,
        rim.bite[0] + made.outer_share * (rim.outer_radius - rim.bite[0]),
    )
    rest, quads, layer, top = grid(made.opening, edges)
    deformed = deformed_grid(rim, made, edges, rest)
    place = deformed[top]
    carried = ring_integral(place[:, 0], pressure_shape(made, edges, place[:, 0]))
    scale = 1e3 * made.force / carried
    pressure = scale * pressure_shape(made, edges, place[:, 0])
    on = np.flatnonzero(pressure > 0)
    span = slice(on[0] - 1, on[-1] + 2)
    profile = np.column_stack([place[span, 0], pressure[span]])
    slope = np.gradient(place[:, 1], place[:, 0])
    normal = np.column_stack([slope, -np.ones_like(slope)]) / np.hypot(slope, 1.0)[:, None]
    surface = np.column_stack([rest[top, 0], place])
    section = Section(
        rest,
        deformed,
        quads,
        layer,
        tuple(name for name, _ in LAYERS),
        stress(made, edges, deformed, rest, scale),
        stretch(edges, deformed, rest),
    )
    return Outcome(
        rim,
        measures(rim, made, edges, profile, place, surface),
        made.force,
        profile,
        surface,
        Contact(place, normal, pressure, np.zeros_like(pressure), pressure > 0),
        section,
        history(made),
        12000,
        36,
        3.2,
        1e-7,
        ("an invented outcome, nowhere solved",),
        mode=Mode(284.0, 0.44, swing(edges, rest)),
    )

"""A pressed rim as plain numbers that a page can draw: outlines, pressure, and where things stand."""

from __future__ import annotations

from typing import Any

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.meshes.rims.rim import Rim
from labrum.reports.figures.section import pressed_runs
from labrum.reports.house_style.shapes import outlines, past_bite_of, rim_line
from labrum.simulate.outcome import Contact, Outcome, Section

PICTURE_CHORD_MM = 0.02
"""A drawn curve strays this far from the true one: a fifth of a dot at the scale of the page."""
PICTURE_DECIMALS = 3

PagePoints = list[list[float]]


def picture(outcome: Outcome) -> dict[str, Any]:
    """Turn an outcome into what a page draws; lengths mm from the resting lip, pressures kPa.

    Returns
    -------
    dict
        ``rim`` points of the rim where it stands; ``layers`` name and closed outlines; ``past_bite`` closed
        outlines; ``bite`` r and z; ``band`` runs of foot, unit normal and pressure along the contact;
        ``profile`` radius and pressure; ``sink_mm``; ``thickness_mm`` of the lip at rest; ``right_mm`` the
        rim's outer radius.
    """
    m = outcome.measures
    return picture_of(outcome.rim, m.sink_mm, outcome.section, outcome.contact, outcome.pressure_profile)


def picture_of(rim: Rim, sink_mm: float, section: Section, contact: Contact, profile: Floats) -> dict[str, Any]:
    """Turn the parts of an equilibrium into what :func:`picture` gives."""
    band = np.column_stack([contact.place, contact.normal, contact.pressure_kpa])
    return {
        "rim": rim_points(rim, sink_mm),
        "layers": [
            {"name": name, "loops": [_points(loop) for loop in outlines(section, section.layer == k, PICTURE_CHORD_MM)]}
            for k, name in enumerate(section.layer_names)
        ],
        "past_bite": [_points(thinned(loop)) for loop in past_bite_of(section, rim, sink_mm)],
        "bite": [round(value, PICTURE_DECIMALS) for value in (rim.bite[0], rim.bite[1] - sink_mm)],
        "band": [_points(band[run]) for run in pressed_runs(contact.pressure_kpa)],
        "profile": _points(profile),
        "sink_mm": round(sink_mm, PICTURE_DECIMALS),
        "thickness_mm": round(float(-section.rest[:, 1].min()), PICTURE_DECIMALS),
        "right_mm": round(rim.outer_radius, PICTURE_DECIMALS),
    }


def rim_points(rim: Rim, sink_mm: float) -> PagePoints:
    """Return the rim's curve where it stands when it has sunk so far."""
    return _points(thinned(rim_line(rim, sink_mm)))


def thinned(line: Floats, chord_mm: float = PICTURE_CHORD_MM) -> Floats:
    """Leave out points of a line (n, 2) that stray less than a chord's tolerance (Douglas, Peucker 1973)."""
    keep = np.zeros(len(line), bool)
    keep[[0, -1]] = True
    spans = [(0, len(line) - 1)]
    while spans:
        first, last = spans.pop()
        if last - first < 2:
            continue
        away = _distance(line[first + 1 : last], line[first], line[last])
        worst = int(np.argmax(away))
        if away[worst] > chord_mm:
            middle = first + 1 + worst
            keep[middle] = True
            spans += [(first, middle), (middle, last)]
    kept: Floats = line[keep]
    return kept


def _distance(points: Floats, start: Floats, end: Floats) -> Floats:
    way, gap = end - start, points - start
    length = float(np.hypot(*way))
    if length < 1e-12:
        return np.asarray(np.hypot(*gap.T))
    along = np.clip(gap @ way / length**2, 0.0, 1.0)
    return np.asarray(np.hypot(*(gap - along[:, None] * way).T))


def _points(rows: Floats) -> PagePoints:
    rounded: PagePoints = (np.round(rows, PICTURE_DECIMALS) + 0.0).tolist()
    return rounded

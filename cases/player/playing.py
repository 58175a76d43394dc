"""The player's lip in playing: under a rim, with the force of soft, middling or loud, breath, friction and muscle.

What nobody measures at a fitter's table is taken as in the shipped living lip, common practice and judgement: an
opening of 1.5 mm, teeth it can slide on with a gap of 6 mm, wet friction 0.15, muscle at 0.3; the breath, and a force
that the sheet does not give, are the library's for the instrument.
"""

from __future__ import annotations

from typing import Any, Protocol

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.reading import case_from_table
from labrum.cases.case_file.schema import SCHEMA
from labrum.cases.library.shelf import library_load
from labrum.cases.player.pressing import disc_radius
from labrum.cases.player.sheet import KnownRim, Sheet
from labrum.cases.player.tissue import layer_tables

OPENING_MM, TOOTH_GAP_MM, WET_FRICTION, ACTIVATION = 1.5, 6.0, 0.15, 0.3
LOUDNESSES = {"soft": "soft", "middling": "typical", "loud": "loud"}
"""How loud, by the sheet's words and by the library's."""
LIVING_ONLY = ("closing_travel_ratio", "muscle_shortening_ratio")
"""Measures that a lip held still does not have, of those that complaints are about."""


class SomeLip(Protocol):
    """A lip by thickness, mm, and stiffness: the player's, or one of the plausible ones."""

    @property
    def thickness(self) -> float:
        """Thickness over the teeth, mm."""

    @property
    def stiffness(self) -> float:
        """Factor on all layers' moduli, 1 being the library's average lip."""


def playing_case(sheet: Sheet, lip: SomeLip, rim: KnownRim, loudness: str, friction: float = WET_FRICTION) -> Case:
    """The case of a player's lip under a rim; ``loudness`` is one of `LOUDNESSES`, the lip the player's or a
    plausible one.

    Raises
    ------
    labrum.cases.case_file.faults.InvalidCase
        Where rim and lip do not fit together.
    """
    table: dict[str, Any] = {
        "schema": SCHEMA,
        "title": f"{sheet.alias or sheet.instrument}, {loudness}: {rim.name}",
        "rim": rim.table,
        "lip": {
            "radius_mm": disc_radius(rim),
            "opening_radius_mm": OPENING_MM,
            "backing": "sliding",
            "tooth_gap_radius_mm": TOOTH_GAP_MM,
            "layer": layer_tables(lip.thickness, lip.stiffness),
        },
        "load": {
            "force_n": playing_force(sheet, loudness),
            "mouth_pressure_kpa": _preset(sheet, loudness)["mouth_pressure_kpa"],
            "friction": friction,
            "muscle_activation": ACTIVATION,
        },
    }
    return case_from_table(table, f"{rim.name}, {loudness}")


def playing_force(sheet: Sheet, loudness: str) -> float:
    """The force, N: the sheet's, or the library's for the instrument where the sheet has none."""
    return sheet.forces.get(loudness, _preset(sheet, loudness)["force_n"])


def _preset(sheet: Sheet, loudness: str) -> dict[str, float]:
    return library_load(f"{sheet.instrument}-{LOUDNESSES[loudness]}").values


def still_case(sheet: Sheet, lip: SomeLip, rim: KnownRim, loudness: str) -> Case:
    """The same rim pressed home with the same force into the lip held still: bonded, no breath, no muscle, no friction.

    It takes a tenth of the time, for a like rim is a start, and its slopes by the rim's dimensions are much like
    those of the playing lip: most within a third for the peak and the bearing area on the two lips tried. They are
    good for looking where to go; what is told of a rim is solved in the playing lip.
    """
    table: dict[str, Any] = {
        "schema": SCHEMA,
        "title": f"{sheet.alias or sheet.instrument}, {loudness}, lip held still: {rim.name}",
        "rim": rim.table,
        "lip": {"radius_mm": disc_radius(rim), "layer": layer_tables(lip.thickness, lip.stiffness)},
        "load": {"force_n": playing_force(sheet, loudness)},
    }
    return case_from_table(table, f"{rim.name}, {loudness}")

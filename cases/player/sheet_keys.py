"""The keys of a player's sheet, schema 1, and the trade's words that may stand in it (common practice, no source)."""

from __future__ import annotations

from dataclasses import replace

from labrum.cases.case_file.schema import KeyTable
from labrum.cases.case_file.values import Choice, Exactly, OneNumber, Presence, SeveralOf, Text

SHEET_SCHEMA = 1
INSTRUMENTS = ("trumpet", "horn", "trombone", "tuba")
COMPLAINTS = ("cuts", "tires", "pins", "falls in", "touches the cup", "feels small", "feels large", "unsteady")
WISHES = ("keep the feel", "keep the diameter", "more room")
MEANS_OF_THICKNESS = {"ultrasound": 0.5, "calliper": 1.0, "eye": 2.0}
"""How a thickness may be measured, and how sure that is: one standard deviation, mm. Judgement, no source."""
FORCES = ("soft_n", "middling_n", "loud_n")
SINK = "sink_mm"
PRINTS = ("print_inner_diameter_mm", "print_outer_diameter_mm")
MOST_PRESSES = 20


def _maybe(name: str, low: float, high: float) -> OneNumber:
    return OneNumber(name, low, high, default=Presence.OPTIONAL)


_TOP = KeyTable(
    "sheet",
    (
        Exactly("schema", SHEET_SCHEMA),
        Text("alias", default=Presence.OPTIONAL),
        Choice("instrument", INSTRUMENTS),
        SeveralOf("complaints", COMPLAINTS),
        SeveralOf("wishes", WISHES),
    ),
    tables=("lips", "forces", "press", "present"),
    advice={"name": "no real name is needed: give alias, or leave it out"},
)
_LIPS = KeyTable(
    "lips",
    (
        _maybe("thickness_mm", 4.0, 30.0),
        Choice("thickness_by", tuple(MEANS_OF_THICKNESS), default=Presence.OPTIONAL),
        _maybe("red_upper_mm", 0.0, 40.0),
        _maybe("red_lower_mm", 0.0, 40.0),
    ),
)
_FORCES = KeyTable(
    "forces",
    tuple(_maybe(name, 0.5, 150.0) for name in FORCES),
    advice={name.replace("_n", "_kg"): f"give {name}: a kilogram on the scale is 9.81 N" for name in FORCES},
)
_PRESS = KeyTable(
    "press",
    (
        Text("rim"),
        OneNumber("force_n", 0.5, 100.0),
        _maybe(SINK, 0.05, 25.0),
        *(_maybe(name, 5.0, 90.0) for name in PRINTS),
    ),
    advice={"force_kg": "give force_n: a kilogram on the scale is 9.81 N"},
)
_PRESENT = KeyTable("present", (Text("rim"),))
_ALL = (_TOP, _LIPS, _FORCES, _PRESS, _PRESENT)

SHEET_TOP, SHEET_LIPS, SHEET_FORCES, SHEET_PRESS, SHEET_PRESENT = (replace(table, beside=_ALL) for table in _ALL)

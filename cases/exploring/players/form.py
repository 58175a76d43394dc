"""What the page builds the form of a player's sheet from: its keys, their ends, and the trade's words."""

from __future__ import annotations

from typing import Any

from labrum.cases.case_file.schema import KeyTable
from labrum.cases.case_file.values import OneNumber
from labrum.cases.library.shelf import demo_names
from labrum.cases.player.sheet_keys import (
    COMPLAINTS,
    INSTRUMENTS,
    MEANS_OF_THICKNESS,
    MOST_PRESSES,
    SHEET_FORCES,
    SHEET_LIPS,
    SHEET_PRESS,
    WISHES,
)

LABELS = {
    "thickness_mm": "Upper lip over the teeth, mm",
    "red_upper_mm": "Red of the upper lip, mm",
    "red_lower_mm": "Red of the lower lip, mm",
    "soft_n": "Soft, N",
    "middling_n": "Middling, N",
    "loud_n": "Loud, N",
    "force_n": "Force, N",
    "sink_mm": "Sink, mm",
    "print_inner_diameter_mm": "Print's inner diameter, mm",
    "print_outer_diameter_mm": "Print's outer diameter, mm",
}


def sheet_form() -> dict[str, Any]:
    """Return the form: choices, and of every number its key, label and ends."""
    return {
        "instruments": list(INSTRUMENTS),
        "complaints": list(COMPLAINTS),
        "wishes": list(WISHES),
        "means": list(MEANS_OF_THICKNESS),
        "lips": _numbers(SHEET_LIPS),
        "forces": _numbers(SHEET_FORCES),
        "press": _numbers(SHEET_PRESS),
        "most_presses": MOST_PRESSES,
        "rims": list(demo_names()),
    }


def _numbers(table: KeyTable) -> list[dict[str, Any]]:
    return [
        {"key": key.name, "label": LABELS[key.name], "low": key.low, "high": key.high}
        for key in table.keys
        if isinstance(key, OneNumber)
    ]

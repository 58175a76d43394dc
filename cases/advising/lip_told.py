"""A player's lip as a person and as a program reads it."""

from __future__ import annotations

import textwrap
from typing import Any

from labrum.cases.player.fitting import COVERAGE, PlayerLip
from labrum.cases.player.sheet import Sheet
from labrum.cases.player.tissue import layer_tables, nearest_type
from labrum.cases.solving.result import CAUTIONS
from labrum.cases.solving.screen import WIDTH

LIP_SCHEMA = 1
STATE = (
    "The presses are read as of a lip set as for playing, dry, with nothing blown; a print as the ring that was "
    "touched."
)


def lip_json(sheet: Sheet, lip: PlayerLip) -> dict[str, Any]:
    """The lip as one JSON object; uncertainties are expanded by ``coverage_factor``."""
    low, high = lip.stiffness_between
    return {
        "schema": LIP_SCHEMA,
        "alias": sheet.alias,
        "instrument": sheet.instrument,
        "basis": basis(sheet, lip),
        "thickness_mm": lip.thickness,
        "thickness_uncertainty_mm": lip.thickness_uncertainty,
        "stiffness": lip.stiffness,
        "stiffness_from": low,
        "stiffness_to": high,
        "coverage_factor": COVERAGE,
        "covariance": lip.covariance.tolist(),
        "narrowed_to": lip.narrowed,
        "nearest_type": nearest_type(lip.thickness),
        "layer": layer_tables(lip.thickness, lip.stiffness),
        "presses": [
            {"press": one.number, "what": one.what, "measured_mm": one.measured, "fitted_mm": one.fitted}
            for one in lip.residuals
        ],
        "warnings": warnings_of(lip),
        "cautions": list(CAUTIONS),
    }


def lip_text(sheet: Sheet, lip: PlayerLip, place: str) -> str:
    """The lip in words, ended by the next step."""
    return "\n".join([*lip_lines(sheet, lip), "", next_after_lip(sheet, place)])


def lip_lines(sheet: Sheet, lip: PlayerLip) -> list[str]:
    """The lip in words."""
    low, high = lip.stiffness_between
    lines = [
        f"The lip of {sheet.alias or 'this player'} ({sheet.instrument})",
        f"  thickness over the teeth  {lip.thickness:.1f} mm +- {lip.thickness_uncertainty:.1f}",
        f"  stiffness                 {lip.stiffness:.2f} of the average lip's, from {low:.2f} to {high:.2f}",
        f"  nearest type              {nearest_type(lip.thickness)}",
        "  +- and from, to: about 95 % (coverage factor 2)",
        *_wrapped(basis(sheet, lip)),
    ]
    for one in lip.residuals:
        lines.append(f"  press {one.number}: {one.what:<27} {one.measured:6.2f} mm measured, {one.fitted:6.2f} fitted")
    return [*lines, *(line for text in warnings_of(lip) for line in _wrapped(f"warning: {text}"))]


def basis(sheet: Sheet, lip: PlayerLip) -> str:
    """What the lip rests on."""
    if not sheet.presses:
        return f"Nothing was pressed. Expected: {lip.expected.basis}."
    share = 100.0 * lip.narrowed
    count = f"{len(sheet.presses)} press" + ("es" if len(sheet.presses) > 1 else "")
    return (
        f"Fitted to {count}, beside what is expected: {lip.expected.basis}. The doubt of the stiffness is "
        f"{share:.0f} % of what it was before. {STATE}"
    )


def warnings_of(lip: PlayerLip) -> list[str]:
    """What does not fit."""
    return [
        f"press {one.number}: the {one.what} is {abs(one.measured - one.fitted):.2f} mm off what any such lip gives: "
        "measure again"
        for one in lip.residuals
        if one.strange
    ]


def next_after_lip(sheet: Sheet, place: str) -> str:
    """Say the next step."""
    if len(sheet.presses) < 2:
        return "next: press a known rim twice, softly and firmly, add both as [[press]] to the sheet, and ask again"
    if sheet.present is None:
        return "next: add the present rim, [present] rim = ..., to the sheet, then: labrum present " + place
    return f"next: labrum present {place}"


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent="  ", subsequent_indent="  ")

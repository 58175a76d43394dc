"""Before and after a shortlist: what a sheet must have for one, and the files that one is kept as."""

from __future__ import annotations

import json
from typing import Any

from labrum.cases.case_file.faults import CaseFault, InvalidCase
from labrum.cases.case_file.toml_writer import case_text
from labrum.cases.player.own_dimensions import in_own_dimensions
from labrum.cases.player.sheet import KnownRim, Sheet
from labrum.cases.shortlisting.finding import Shortlist
from labrum.cases.shortlisting.kept import KEPT_AS, file_stem
from labrum.cases.shortlisting.probing import PRESENT, Played
from labrum.meshes.faults import Fault


def rim_to_change(sheet: Sheet) -> tuple[KnownRim, str]:
    """The present rim in dimensions, and how far those are off it.

    Raises
    ------
    InvalidCase
        With all that the sheet lacks for a shortlist.
    """
    faults, said = [], None
    if sheet.present is None:
        allowed = "the rim the player has: a case file, a shipped case or a trace"
        faults.append(Fault("present.rim", "nothing", allowed))
    else:
        said = in_own_dimensions(sheet.present)
        if said.rim is None:
            faults.append(Fault("present.rim", said.words, "a rim that dimensions say"))
    if not sheet.complaints and "more room" not in sheet.wishes:
        faults.append(Fault("complaints", "nothing", "what is to be better: one or more complaints, or more room"))
    if faults or said is None or said.rim is None:
        raise InvalidCase(tuple(CaseFault(sheet.file, None, fault) for fault in faults))
    return said.rim, said.words


def played_rims(found: Shortlist) -> dict[str, Played]:
    """The present rim and those listed, by the names of their case files."""
    return {PRESENT: found.present, **{file_stem(one.kind): one.played for one in found.listed}}


def kept_files(found: Shortlist, told: dict[str, Any], text: str) -> dict[str, str]:
    """The files of a kept shortlist, by name; ``told`` and ``text`` are what was said of it."""
    cases = {name: one.case for name, one in played_rims(found).items()}
    return {
        KEPT_AS: json.dumps(told, indent=2, allow_nan=False) + "\n",
        "shortlist.txt": text + "\n",
        **{f"{name}.toml": case_text(case.resolved, case.problem.title) for name, case in cases.items()},
    }

"""What is handed over of one rim: every file by its name, a plain list of them, and the archive that holds them."""

from __future__ import annotations

import io
import json
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.toml_writer import case_text
from labrum.cases.cutting.files import LATHE_CAUTION, Cut, cut_files
from labrum.cases.shortlisting.told import changes_told
from labrum.cases.solving.leftovers import written_whole
from labrum.cases.solving.result import measured
from labrum.cases.solving.screen import written_cell
from labrum.reports.pages.handover import ChangeRow, HandoverPaper, handover_page
from labrum.simulate.measures.catalogue import CATALOGUE
from labrum.simulate.outcome import Outcome

NO_TIME = (1980, 1, 1, 0, 0, 0)
"""The earliest an archive can say: the same files give the same archive."""
READABLE = 0o644 << 16

CONTENTS_HEAD = """\
{title}

page.html                for player and shop: what is recommended, why, before and after, the drawing; to be filled in
shop/README.txt          how the outline was written and checked
shop/drawing.pdf, .svg   dimensioned, A4, true to scale
shop/outline.dxf         the finished rim: lines and arcs
shop/outline.csv         points on it, from the cup outwards
shop/pieces.csv          where each line and arc ends
shop/toolpath.dxf, .csv  the path of the tool, for the nose radius told in shop/README.txt
cases/present.toml       the present rim in the player's lip, loud: labrum solve reads it
cases/recommended.toml   the recommended rim in the same lip
shortlist.json           all that was found, for programs

{caution}
The player goes by an alias, if by anything. Nothing here left the machine it was made on.
"""


@dataclass(frozen=True)
class Parcel:
    """What there is to hand over: the kept shortlist ``told``, its rim ``row``, both cases and outcomes, the cut."""

    told: dict[str, Any]
    row: dict[str, Any]
    cases: tuple[Case, Case]
    outcomes: tuple[Outcome, ...]
    cut: Cut


def files_of(parcel: Parcel) -> dict[str, bytes]:
    """Contents of every file, by name; the same parcel gives the same bytes."""
    before, after = parcel.cases
    title = f"{parcel.told.get('alias') or parcel.told['instrument']}: {parcel.row['kind']}"
    shop = cut_files(title, after.problem.rim, parcel.cut, invented=False)
    page = handover_page(_paper(parcel, title, shop["drawing.svg"].decode()))
    contents = CONTENTS_HEAD.format(title=title, caution=LATHE_CAUTION)
    return {
        "CONTENTS.txt": contents.encode(),
        "page.html": page.encode(),
        **{f"shop/{name}": content for name, content in shop.items()},
        "cases/present.toml": case_text(before.resolved, before.problem.title).encode(),
        "cases/recommended.toml": case_text(after.resolved, after.problem.title).encode(),
        "shortlist.json": (json.dumps(parcel.told, indent=2, allow_nan=False) + "\n").encode(),
    }


def archive(place: Path | IO[bytes], files: dict[str, bytes]) -> None:
    """Write files into a zip archive, at a path or into an open file; the same files give the same bytes.

    At a path it stands when it is whole.
    """
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w") as packed:
        for name in sorted(files):
            entry = zipfile.ZipInfo(name, NO_TIME)
            entry.compress_type, entry.external_attr = zipfile.ZIP_DEFLATED, READABLE
            packed.writestr(entry, files[name])
    if isinstance(place, Path):
        written_whole(place, content.getvalue())
    else:
        place.write(content.getvalue())


def _paper(parcel: Parcel, title: str, drawing: str) -> HandoverPaper:
    told, row = parcel.told, parcel.row
    table = told["present"]["rim"]
    before, after = (measured(outcome.measures) for outcome in parcel.outcomes)
    effects = [one for one in row["effects"] if one["measure"] in CATALOGUE]
    held = [f"{one['limit']} (without it {one['relief_more_without']:.1f} times the relief asked for would come on top)"
            for one in told["holds_back"]]  # fmt: skip
    return HandoverPaper(
        title=title,
        instrument=told["instrument"],
        complaints=tuple(told["complaints"]),
        wishes=tuple(told["wishes"]),
        changes=tuple(changes_told(table, row["changes"])),
        reasons=tuple(row[key] for key in ("summary", "at_soft_words") if row.get(key)),
        wanted=tuple(one["words"] for one in told["wanted"]),
        held=tuple(told["held"]),
        holds_back=tuple(held),
        not_met=tuple(told["not_met"]),
        rows=tuple(_row(one, before, after) for one in effects),
        outcomes=(parcel.outcomes[0], parcel.outcomes[1]),
        drawing=drawing,
        force_n=parcel.outcomes[0].force_n,
        cautions=(*told["cautions"], *parcel.cut.cautions),
        warnings=parcel.cut.warnings,
    )


def _row(one: dict[str, Any], before: dict[str, Any], after: dict[str, Any]) -> ChangeRow:
    entry, lips = CATALOGUE[one["measure"]], one["lips"]
    name = entry.name
    votes = "own lip only" if lips is None else f"{lips[0]} of {lips[1]}"
    return ChangeRow(
        entry.label, entry.words, entry.typeset_unit, written_cell(before[name]), written_cell(after[name]),
        one["effect"], votes,
    )  # fmt: skip

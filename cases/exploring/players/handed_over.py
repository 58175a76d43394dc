"""One rim of a shortlist on the page, handed over: what ``labrum handover`` writes, as one archive to keep."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import Any

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.faults import CaseFault, InvalidCase
from labrum.cases.cutting.files import lay_out
from labrum.cases.cutting.options import CutOptions, read_options
from labrum.cases.exits import CannotDo, NoEquilibrium, OurFault
from labrum.cases.exploring.asks.answer import FurtherAnswer, PageFile, Tell
from labrum.cases.exploring.tables import case_from_page
from labrum.cases.handing_over.job import NOSE_RADIUS, PRESENT_CASE, outcomes_of
from labrum.cases.handing_over.parcel import Parcel, archive, files_of
from labrum.cases.shortlisting.kept import file_stem, kept_faults
from labrum.meshes.faults import Fault, GeometryError

HANDED = "this shortlist"


@dataclass(frozen=True)
class HandoverJob:
    """Write all that player and shop need of one rim, in a worker process."""

    told: dict[str, Any]
    row: dict[str, Any]
    cases: tuple[Case, Case]
    what: str = "hand over"

    def run(self, tell: Tell) -> dict[str, Any]:
        """Return the answer as plain values; where there is none, why."""
        from labrum.cases.exploring.players.working import Working  # loads the solver

        work = Working(tell, (0.05,))
        work.say("both rims in the playing lip, loud")
        try:
            return self._answer(work.each).plain
        except (CannotDo, NoEquilibrium, OurFault, GeometryError) as error:
            return FurtherAnswer((f"No answer: {error}.",)).plain

    def _answer(self, each: Any) -> FurtherAnswer:
        plan, _ = read_options(CutOptions("mm", nose_radius=NOSE_RADIUS["mm"]))
        assert plan is not None
        cut = lay_out(self.cases[1].problem.rim, plan)
        files = files_of(Parcel(self.told, self.row, self.cases, outcomes_of(self.cases, each), cut))
        pack = io.BytesIO()
        archive(pack, files)
        name = f"{file_stem(self.row['kind'])}-rim.zip"
        words = (
            f"The {self.row['kind']} rim is ready to hand over: the archive holds {len(files)} files, in mm, for a "
            f"tool's nose of {NOSE_RADIUS['mm']:g} mm.",
            "Next: keep it, open page.html in it, fill in and print it, and give the shop the archive. `labrum "
            "handover` has inches, tolerances and other noses.",
            *cut.warnings,
        )
        return FurtherAnswer(words, (), (PageFile.of(name, "application/zip", pack.getvalue()),))


def handover_from_page(kept: Any, rim: Any) -> HandoverJob:
    """Read a shortlist as a page sends it back, and which of its rims is handed over.

    Raises
    ------
    InvalidCase
        With every fault found.
    """
    sent = kept if isinstance(kept, dict) else {}
    told, cases = sent.get("told"), sent.get("cases")
    if faults := kept_faults(told):
        raise InvalidCase(tuple(CaseFault(HANDED, None, fault) for fault in faults))
    assert isinstance(told, dict)
    rows = {file_stem(row["kind"]): row for row in told["rims"]}
    tables = cases if isinstance(cases, dict) else {}
    if rim not in rows or not {PRESENT_CASE, rim} <= set(tables):
        raise InvalidCase((CaseFault(HANDED, None, Fault("rim", str(rim), f"one of {', '.join(rows)}")),))
    return HandoverJob(told, rows[rim], (case_from_page(tables[PRESENT_CASE]), case_from_page(tables[rim])))

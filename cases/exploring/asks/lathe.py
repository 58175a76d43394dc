"""The files for the lathe, of the rim on the page: outline, points, dimensioned drawing, in one archive."""

from __future__ import annotations

import io
import zipfile

from labrum.cases.case_file.building import Case
from labrum.cases.cutting.files import cut_files, lay_out
from labrum.cases.cutting.options import CutOptions, read_options
from labrum.cases.exploring.asks.answer import Files, FurtherAnswer, PageFile, Tell

UNDATED = (1980, 1, 1, 0, 0, 0)  # the earliest an archive can say: the same rim gives the same bytes


def files_to_cut(case: Case, files: Files, tell: Tell) -> FurtherAnswer:
    """Write what ``labrum cut`` writes with its defaults."""
    plan, _ = read_options(CutOptions())
    assert plan is not None
    tell({"share": 0.2, "words": "drawing"})
    rim, title = case.problem.rim, case.problem.title
    cut = lay_out(rim, plan)
    made = cut_files(title, rim, cut, invented=False)
    pack = io.BytesIO()
    with zipfile.ZipFile(pack, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in made.items():
            archive.writestr(zipfile.ZipInfo(name, UNDATED), content, zipfile.ZIP_DEFLATED)
    words = (
        f"The archive holds {', '.join(made)}: in mm, X as a diameter, no tool nose.",
        "`labrum cut` on the saved case has inches, a tool's nose, tolerances and other layouts.",
        *cut.cautions,
    )
    return FurtherAnswer(words, (), (PageFile.of("rim-to-cut.zip", "application/zip", pack.getvalue()),))

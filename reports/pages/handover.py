"""The page for player and shop: what is recommended and why, before and after, the drawing, room to fill in."""

from __future__ import annotations

from dataclasses import dataclass

import jinja2
from markupsafe import Markup

from labrum.reports.figures.side_by_side import compare_figure, overlay_figure
from labrum.reports.house_style.saving import inline_svg
from labrum.reports.house_style.words import plain
from labrum.reports.pages.report import asset
from labrum.simulate.outcome import Outcome

TO_FILL_IN = ("Player", "Date", "Maker", "Material", "Finish")
BEFORE, AFTER = "present rim", "recommended rim"


@dataclass(frozen=True)
class ChangeRow:
    """One measure before and after, written out; ``effect`` is better, worse or moves, ``lips`` in how many."""

    label: str
    words: str
    unit: str
    before: str
    after: str
    effect: str
    lips: str


@dataclass(frozen=True)
class HandoverPaper:
    """Everything on the page.

    ``outcomes`` are the present rim's and the recommended one's, pressed with ``force_n``; ``drawing`` is the
    dimensioned drawing as SVG; the rest is words.
    """

    title: str
    instrument: str
    complaints: tuple[str, ...]
    wishes: tuple[str, ...]
    changes: tuple[str, ...]
    reasons: tuple[str, ...]
    wanted: tuple[str, ...]
    held: tuple[str, ...]
    holds_back: tuple[str, ...]
    not_met: tuple[str, ...]
    rows: tuple[ChangeRow, ...]
    outcomes: tuple[Outcome, Outcome]
    drawing: str
    force_n: float
    cautions: tuple[str, ...]
    warnings: tuple[str, ...] = ()


def handover_page(paper: HandoverPaper) -> str:
    """Write the page as one HTML file that asks nothing of any network; words that came from people are escaped."""
    environment = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True)
    environment.filters |= {"plain": plain, "arrows": lambda text: text.replace("->", "→")}
    names = (BEFORE, AFTER)
    words = "; ".join(
        f"{name}: peak {one.measures.peak_pressure_kpa:.1f} kPa at r = {one.measures.peak_radius_mm:.2f} mm"
        for name, one in zip(names, paper.outcomes, strict=True)
    )
    sections = inline_svg(compare_figure(paper.outcomes, names), "sections", f"Both rims pressed, one scale. {words}")
    pressures = inline_svg(overlay_figure(paper.outcomes, names), "pressures", f"Both pressures. {words}")
    return environment.from_string(asset("handover.html")).render(
        paper=paper,
        style=Markup(asset("page.css")),
        fields=TO_FILL_IN,
        sections=Markup(sections),
        pressures=Markup(pressures),
        drawing=Markup(_element(paper.drawing)),
    )


def _element(svg: str) -> str:
    """The drawing as an element of a page: without its head, named for those who cannot see it."""
    start = svg.index("<svg")
    named = '<svg role="img" aria-label="Dimensioned drawing of the recommended rim"'
    return svg[start:].replace("<svg", named, 1)

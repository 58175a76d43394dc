"""Pages at three widths, for the keyboard, for assistive software and on paper."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from labrum.cases.case_file.reading import read_case
from labrum.cases.reporting.job import PressedCase, paper_of, provenance_of
from labrum.cases.workers.task import real_solver as solver
from labrum.reports.pages.report import report_page

PAGES = ("", "lessons", "lessons/too-wide")
WIDTHS = (1440, 1024, 390)


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    from datetime import UTC, datetime

    cases = [read_case(name) for name in ("thin-narrow", "thin-wide")]
    pressed = [PressedCase(solver(c.problem)) for c in cases]
    paper = paper_of(cases, pressed, provenance_of(cases, (), datetime.now(UTC)))
    assert paper is not None
    place = tmp_path_factory.mktemp("report") / "report.html"
    place.write_text(report_page(paper), encoding="utf-8")
    return place


def serious(page: Any, axe: str) -> list[tuple[str, str]]:
    page.evaluate(axe)
    found = page.evaluate("axe.run()")["violations"]
    return [(v["id"], v["nodes"][0]["html"][:200]) for v in found if v["impact"] in ("serious", "critical")]


def overflow(page: Any) -> int:
    return int(page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth"))


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("place", PAGES)
def test_nothing_sticks_out_of_the_window(address: str, visit: Callable[..., Any], place: str, width: int) -> None:
    page = visit(address + place, width).page
    page.wait_for_timeout(300)
    assert overflow(page) == 0


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("place", PAGES)
def test_assistive_software_finds_no_serious_obstacle(
    address: str, visit: Callable[..., Any], axe: str, place: str, scheme: str
) -> None:
    page = visit(address + place).page
    page.emulate_media(color_scheme=scheme)
    if not place:
        page.wait_for_selector("#chip[data-state=solved]")
    assert serious(page, axe) == []


@pytest.mark.parametrize("width", WIDTHS)
def test_the_report_fits_every_window(visit: Callable[..., Any], report: Path, width: int) -> None:
    assert overflow(visit(report.as_uri(), width).page) == 0


def test_the_report_has_no_serious_obstacle(visit: Callable[..., Any], report: Path, axe: str) -> None:
    assert serious(visit(report.as_uri()).page, axe) == []


def test_the_report_asks_for_itself_alone(visit: Callable[..., Any], report: Path) -> None:
    opened = visit(report.as_uri())
    assert {u for u in opened.asked if not u.startswith("data:")} == {report.as_uri()}


def test_the_report_prints(visit: Callable[..., Any], report: Path, tmp_path: Path) -> None:
    page = visit(report.as_uri()).page
    page.emulate_media(media="print")
    assert page.locator("nav").is_hidden()
    assert page.locator("#inputs td").first.is_visible()
    paper = page.pdf(prefer_css_page_size=True)
    assert paper.startswith(b"%PDF")
    assert 4 <= len(re.findall(rb"/Type /Page\b", paper)) <= 25
    sizes = {tuple(round(float(v)) for v in m.split()) for m in re.findall(rb"/MediaBox \[([\d. ]+)\]", paper)}
    assert all(size == (0, 0, 595, 842) or size == (0, 0, 596, 842) for size in sizes)

"""The lessons in a real browser: served, and in the one file that works alone."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from labrum.cases.exploring.export import without_tables
from labrum.cases.exploring.lessons import lesson_data, lesson_names
from labrum.reports.pages.live import lessons_file
from labrum.reports.pages.picture import picture

NAME = "five-people"


def test_a_lesson_is_solved_where_the_slider_stands(address: str, visit: Callable[..., Any]) -> None:
    page = visit(f"{address}lessons/{NAME}").page
    page.wait_for_selector("[data-told]:text-is('solved')")
    assert page.locator("[data-section][role=img]").count() == 2
    assert page.locator("output").inner_text() == "20 N"
    felt = page.locator('td[data-measure="felt_diameter_mm"]').all_inner_texts()
    assert all(21.0 < float(value) < 22.5 for value in felt)
    page.focus("[data-stops]")
    page.keyboard.press("ArrowLeft")
    assert page.locator("output").inner_text() == "10 N"
    page.wait_for_selector("[data-told]:text-is('solved')")
    assert page.locator('td[data-measure="felt_diameter_mm"]').all_inner_texts() != felt


def test_a_state_stays_until_the_next_is_there_and_says_where_it_is_of(
    address: str, visit: Callable[..., Any]
) -> None:
    page = visit(f"{address}lessons/what-pins").page
    page.wait_for_selector("[data-told]:text-is('solved')")
    drawn = page.locator("[data-section] path").count()
    page.focus("[data-stops]")
    page.keyboard.press("ArrowRight")
    if page.locator(".case.old").count():
        assert page.locator("[data-section] path").count() >= drawn - 10
        assert "still at 20 N" in page.locator("[data-old]").all_inner_texts()
    page.wait_for_selector("[data-told]:text-is('solved')")
    assert page.locator(".case.old").count() == 0
    assert set(page.locator("[data-old]").all_inner_texts()) == {""}


def test_the_projector_shows_the_lesson_large_and_leaves_by_escape(address: str, visit: Callable[..., Any]) -> None:
    page = visit(f"{address}lessons/{NAME}").page
    page.wait_for_selector("[data-told]:text-is('solved')")
    usual = page.locator("h2").evaluate("one => parseFloat(getComputedStyle(one).fontSize)")
    page.click("[data-projector]")
    assert page.locator("h2").evaluate("one => parseFloat(getComputedStyle(one).fontSize)") > 1.3 * usual
    assert not page.locator(".story").first.is_visible()
    assert page.evaluate("document.activeElement.hasAttribute('data-stops')")
    page.keyboard.press("Escape")
    assert page.locator(".story").first.is_visible()


def test_a_state_goes_on_at_the_bench(address: str, visit: Callable[..., Any]) -> None:
    page = visit(f"{address}lessons/{NAME}").page
    page.wait_for_selector("[data-told]:text-is('solved')")
    page.locator("[data-onward]").nth(1).click()
    page.wait_for_selector("#chip[data-state=solved]")
    assert page.input_value("#case-title").endswith("round bite")
    assert page.url == address


def made_up(names: tuple[str, ...]) -> str:
    """The file with made-up states: pictures of one solved case, and numbers that name their stop."""
    from labrum.cases.case_file.reading import read_case
    from labrum.simulate import solve

    drawn = picture(solve(read_case("round-ring").problem))
    lessons = without_tables([lesson_data(name) for name in names])
    solved = {
        f"{lesson['name']}/{rim}/{stop}": {
            "picture": drawn,
            "result": {measure: 100 * rim + stop for measure, _, _ in lesson["measures"]},
            "case": f"# {rim}/{stop}",
        }
        for lesson in lessons
        for rim in range(len(lesson["cases"]))
        for stop in range(len(lesson["knob"]["values"]))
    }
    return lessons_file(lessons, solved)


@pytest.fixture
def alone(tmp_path: Path) -> Path:
    place = tmp_path / "lessons.html"
    place.write_text(made_up((NAME,)), encoding="utf-8")
    return place


def test_the_file_works_without_a_program_or_a_network(visit: Callable[..., Any], alone: Path) -> None:
    opened = visit(alone.as_uri())
    page = opened.page
    for stop, force in enumerate(("5 N", "10 N", "20 N", "40 N")):
        page.locator("[data-stops]").fill(str(stop))
        assert page.locator("output").inner_text() == force
        texts = page.locator('td[data-measure="felt_diameter_mm"]').all_inner_texts()
        assert texts == [str(stop), str(100 + stop)]
    assert page.locator("[data-section] path").count() > 10
    assert page.locator("[data-onward]").first.get_attribute("href").endswith("%23%200%2F3")
    assert opened.asked == [alone.as_uri()]


def test_every_lesson_in_one_file_fits_a_phone(visit: Callable[..., Any], tmp_path: Path, axe: str) -> None:
    place = tmp_path / "lessons.html"
    place.write_text(made_up(lesson_names()), encoding="utf-8")
    page = visit(place.as_uri(), 390).page
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") == 0
    page.evaluate(axe)
    assert page.evaluate("axe.run()")["violations"] == []

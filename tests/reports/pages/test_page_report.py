"""The report: self-contained, escaped, complete, readable by those who cannot see it."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from labrum.reports.pages.content import MOST_RIMS, NoSolution, Paper, RimSheet, Softened, Unsolved
from labrum.reports.pages.report import asset, flat, report_page, written_measure
from labrum.simulate.outcome import Outcome

HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "'; </style><style>*{display:none}",
    "{{ 7 * 7 }} {% raw %}",
    "</svg><svg onload=alert(1)>",
    "A & B <b>bold</b> \x00\x1b[31m",
)
INPUTS = {
    "schema": 1,
    "title": "t",
    "rim": {"width_mm": 5.2},
    "lip": {"layer": [{"name": "skin", "thickness_mm": 1.2}]},
    "accuracy": {"peak_pressure_percent": 1.0},
}


class Page(HTMLParser):
    """Gathers elements, and the text a reader sees."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str]]] = []
        self.words: list[str] = []
        self._hidden = 0
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, {key: value or "" for key, value in attrs}))
        self._hidden += tag in ("style", "svg")

    def handle_endtag(self, tag: str) -> None:
        self._hidden -= tag in ("style", "svg")

    def handle_data(self, data: str) -> None:
        if not self._hidden:
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())

    def all(self, tag: str) -> list[dict[str, str]]:
        return [attributes for name, attributes in self.elements if name == tag]


def sheet(outcome: Outcome, name: str = "My rim", **more: object) -> RimSheet:
    return RimSheet(name, outcome, INPUTS, **more)


@pytest.fixture(scope="module")
def page(six: list[Outcome]) -> Page:
    sheets = tuple(sheet(o, f"rim {k}", given="schema = 1") for k, o in enumerate(six[:2]))
    return Page(report_page(Paper(sheets, calibration="A calibration.", cautions=("Take care.",))))


def test_nothing_is_asked_of_any_network(page: Page) -> None:
    for tag, attributes in page.elements:
        assert tag not in ("script", "iframe", "object", "embed", "link", "base", "form"), tag
        for key in ("src", "href", "xlink:href", "srcset", "action"):
            if key in attributes:
                assert attributes[key].startswith(("#", "data:")), (tag, attributes[key][:60])
    policy = next(a["content"] for a in page.all("meta") if a.get("http-equiv") == "Content-Security-Policy")
    assert "default-src 'none'" in policy


def test_styles_name_no_address(page: Page) -> None:
    assert "@import" not in asset("page.css")
    assert "url(" not in asset("page.css")


def test_every_picture_has_words_in_its_stead(page: Page) -> None:
    pictures = page.all("svg")
    assert len(pictures) == 2 + 3 * 2
    assert all(p["role"] == "img" and len(p["aria-label"]) > 30 for p in pictures)


def test_ids_are_unique_and_every_inner_link_lands(page: Page) -> None:
    ids = [attributes["id"] for _, attributes in page.elements if "id" in attributes]
    assert len(ids) == len(set(ids))
    assert {a["href"][1:] for a in page.all("a")} <= set(ids)


def test_headings_do_not_skip_a_level(page: Page) -> None:
    levels = [int(tag[1]) for tag, _ in page.elements if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


def test_the_numbers_shown_are_the_outcomes(six: list[Outcome], page: Page) -> None:
    for outcome in six[:2]:
        assert written_measure(outcome.measures.peak_pressure_kpa) in page.text
        assert f"{outcome.measures.bearing_area_mm2:.0f} mm²" in page.text
        assert f"{outcome.measures.felt_diameter_mm:.2f} mm" in page.text


def test_what_is_not_known_is_said(page: Page) -> None:
    assert "Not examined in this report." in page.text
    assert "A calibration." in page.text
    assert "Take care." in page.text
    assert "No study ties the bands" in page.text


def test_peoples_words_stay_words(outcome: Outcome) -> None:
    """Every place that takes people's words gets all the hostile ones at once, and no element or handler arises."""
    words = " ".join(HOSTILE)
    section = replace(outcome.section, layer_names=(words, *outcome.section.layer_names[1:]))
    inputs = {**INPUTS, "lip": {"layer": [{"name": words}]}, words: words}
    one = RimSheet(
        words, replace(outcome, section=section), inputs, given=words, presets={"lip": words},
        sources={words: words}, warnings=(words,),
    )  # fmt: skip
    stopped = Unsolved(words, NoSolution(1.0, words, words))
    paper = Paper((one,), (stopped,), words, (words,), {words: [words, {"deep": words}]})
    made = Page(report_page(paper))
    ours = {tag for tag, _ in Page(report_page(Paper((sheet(outcome, given="x"),)))).elements}
    assert {tag for tag, _ in made.elements} <= ours
    assert not any(key.startswith("on") for _, attributes in made.elements for key in attributes)
    assert "{{ 7 * 7 }} {% raw %}" in made.text
    assert "<script>alert(1)</script>" in made.text


def test_softer_and_stiffer_lips_are_told(outcome: Outcome) -> None:
    softer = Softened(0.5, replace(outcome.measures, peak_pressure_kpa=12.34))
    stiffer = Softened(2.0, NoSolution(7.5, "a reason", "an advice"))
    made = Page(report_page(Paper((sheet(outcome, softened=(softer, stiffer)),))))
    assert "half the stiffness" in made.text
    assert "12.34" in made.text
    assert "no equilibrium was found beyond 7.5 N: a reason" in made.text


def test_a_rim_without_a_result_is_named_and_has_no_number(outcome: Outcome) -> None:
    unsolved = (Unsolved("The other", NoSolution(3.0, "why", "what")),)
    made = Page(report_page(Paper((sheet(outcome),), unsolved)))
    assert "The other: no result. The solve stopped at 3.00 N: why." in made.text


def test_six_rims_fit_and_seven_do_not(six: list[Outcome]) -> None:
    sheets = tuple(sheet(o, f"rim {k}") for k, o in enumerate(six))
    made = Page(report_page(Paper(sheets)))
    assert "6 rims side by side" in made.text
    assert "F: rim 5" in made.text
    with pytest.raises(ValueError, match=f"allowed 1 to {MOST_RIMS}"):
        Paper((*sheets, sheets[0]))


def test_nested_tables_become_rows() -> None:
    rows = flat({"a": {"b": [1.5, True]}, "c": [{"d": None}, {"d": "x"}]})
    assert rows == [("a.b", "1.5, yes"), ("c[1].d", "–"), ("c[2].d", "x")]


@pytest.mark.parametrize("sheet_name", ["page.css", "live.css"])
def test_words_stand_out_from_their_ground(sheet_name: str) -> None:
    """WCAG 2.2, success criterion 1.4.3: 4.5 to 1; the formula is that of its definition of relative luminance."""
    colours = dict(re.findall(r"--(\w+): (#[0-9a-f]{3,6});", asset(sheet_name)))
    for ground in ("paper", "tint"):
        for ink in ("ink", "quiet", "deep", "more", "less"):
            assert contrast(colours[ink], colours[ground]) >= 4.5, (ink, ground)


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def luminance(colour: str) -> float:
    digits = colour[1:] if len(colour) == 7 else "".join(2 * c for c in colour[1:])
    shares = [int(digits[k : k + 2], 16) / 255 for k in (0, 2, 4)]
    r, g, b = (s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def test_contrast_of_black_and_white_is_twenty_one() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)

"""The lessons: each can be built, says what it shows, and what it claims is what the solver finds."""

from __future__ import annotations

import asyncio
import json
from itertools import pairwise
from typing import Any

import pytest

from labrum.cases.exploring.export import without_tables
from labrum.cases.exploring.lessons import lesson_claims, lesson_data, lesson_names, lessons_index
from labrum.cases.exploring.memory import Memory
from labrum.cases.exploring.teaching.states import planned, shown
from labrum.cases.solving.result import CAUTIONS
from labrum.cases.workers.page_crew import Crew
from labrum.meshes.gauges.readings import CONVENTIONS
from labrum.reports.pages.live import lessons_file
from labrum.simulate.conclusions.measure_errors import clear
from labrum.simulate.measures.catalogue import Measures


def test_the_lessons_are_told_in_order() -> None:
    assert lesson_names() == (
        "flotation-and-cutting", "same-diameter", "the-bite", "too-wide", "what-pins", "fleshy-lip", "five-people",
    )  # fmt: skip
    assert [entry["name"] for entry in lessons_index()] == list(lesson_names())


@pytest.mark.parametrize("name", lesson_names())
def test_every_case_of_a_lesson_is_a_case(name: str) -> None:
    lesson = lesson_data(name)
    assert 2 <= len(lesson["cases"]) <= 3
    cases = planned([lesson])
    assert len(cases) == len(lesson["cases"]) * len(lesson["knob"]["values"])
    assert not [case.warnings for case in cases.values() if case.warnings]
    assert {m[0] for m in lesson["measures"]} <= set(Measures.__dataclass_fields__)
    assert lesson["knob"]["start"] < len(lesson["knob"]["values"])


@pytest.mark.parametrize("name", lesson_names())
def test_claims_name_rims_and_measures_that_are_there(name: str) -> None:
    lesson = lesson_data(name)
    rims, measures = {case["name"] for case in lesson["cases"]}, {m[0] for m in lesson["measures"]}
    for claim in lesson_claims(name):
        named = [claim[side] for side in ("more", "less", "grows", "falls") if side in claim]
        assert {*named, *claim.get("alike", ())} <= rims
        kinds = ({"grows"}, {"falls"}, {"more", "less"}, {"alike", "within"})
        assert sum(kind <= set(claim) for kind in kinds) == 1
        assert claim["measure"] in measures
        assert set(claim.get("stops", ())) <= set(lesson["knob"]["values"])


def test_five_people_read_two_rims_by_five_rules() -> None:
    rows = lesson_data("five-people")["readings"]["rows"]
    assert [row["how"] for row in rows] == [c.definition for c in CONVENTIONS]
    sharp, rounded = ([float(row["values"][k]) for row in rows] for k in (0, 1))
    assert sharp[0] == rounded[0] == 16.5
    assert all(max(read) - min(read) > 0.5 for read in (sharp, rounded))
    at_depth = next(k for k, c in enumerate(CONVENTIONS) if c.name == "at_depth")
    assert sharp[at_depth] == min(sharp)
    for read in (sharp, rounded):
        del read[at_depth]
    assert max(rounded) - min(rounded) > 2.0 * (max(sharp) - min(sharp)) > 0.0


def test_the_exported_file_asks_nothing_of_a_network() -> None:
    lessons = without_tables([lesson_data(name) for name in lesson_names()])
    html = lessons_file(lessons, {"a/0/0": {"picture": {"words": "</script><script>"}, "result": {}}})
    assert "default-src 'none'" in html
    assert "<link" not in html
    assert 'src="' not in html
    assert html.count("<script>") == 2
    assert html.count("</script>") == 3
    assert "connect-src" not in html


def test_no_lesson_promises_safety() -> None:
    told = json.dumps([lesson_data(name)["story"] + lesson_data(name)["look"] for name in lesson_names()]).lower()
    assert not any(word in told for word in ("safe", "healthy", "injur", "better player"))
    assert "limit of safety" in CAUTIONS[-1]


@pytest.mark.slow
@pytest.mark.parametrize("name", lesson_names())
def test_what_a_lesson_claims_is_what_the_solver_finds(name: str) -> None:
    """Every claim, at every stop it is made for; and that all five readings lie inside the felt diameter."""
    lesson = lesson_data(name)

    async def solve() -> dict[str, dict[str, Any]]:
        crew, memory = Crew(2), Memory(None, "test")
        await crew.start()
        try:
            cases = planned([lesson])
            texts = await asyncio.gather(*(shown(case, crew, memory) for case in cases.values()))
        finally:
            await crew.close()
        return {key: json.loads(text)["result"] for key, text in zip(cases, texts, strict=True)}

    found = asyncio.run(solve())
    rims = {case["name"]: k for k, case in enumerate(lesson["cases"])}
    for claim in lesson_claims(name):
        stops = [k for k, v in enumerate(lesson["knob"]["values"]) if v in claim.get("stops", lesson["knob"]["values"])]
        if "alike" in claim:
            for stop in stops:
                one, other = (found[f"{name}/{rims[rim]}/{stop}"][claim["measure"]] for rim in claim["alike"])
                assert abs(one - other) <= claim["within"], (claim, stop)
            continue
        if "more" not in claim:
            rim = rims[claim.get("grows", claim.get("falls"))]
            pairs = [(f"{name}/{rim}/{b}", f"{name}/{rim}/{a}") for a, b in pairwise(stops)]
            pairs = [(b, a) for a, b in pairs] if "falls" in claim else pairs
        else:
            pairs = [tuple(f"{name}/{rims[claim[side]]}/{stop}" for side in ("more", "less")) for stop in stops]
            assert all(found[m][claim["measure"]] > 1.01 * found[k][claim["measure"]] for m, k in pairs), claim
        for more, less in pairs:
            a, b = ((found[k][claim["measure"]], found[k]["errors"][claim["measure"]]) for k in (more, less))
            assert a[0] > b[0], (claim, more)
            assert clear(a, b), (claim, more)
    if lesson["readings"]:
        widest = max(float(value) for row in lesson["readings"]["rows"] for value in row["values"])
        assert min(result["felt_diameter_mm"] for result in found.values()) > widest

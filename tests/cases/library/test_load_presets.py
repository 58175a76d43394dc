"""The presets' numbers against the table they were drawn up from, so that none is changed by a slip."""

from __future__ import annotations

import pytest

from labrum.cases.library.shelf import TAGS, library_load, listing, load_names
from labrum.reports.pages.report import asset

# Forces N and mouth pressures kPa, soft, typical, loud, limit. Published: the trumpet's 5 to 40 N (Mayer & Bertsch,
# reviewing Barbenel 1986 and Petiot 2003) and its 25 kPa (Fletcher & Tarnopolsky 1999, JASA 105:874). All else is from
# memory, with low confidence; a limit without a pressure of its own takes the loud one's.
PRESETS = {
    "trumpet": ((5, 20, 40, 70), (1.5, 4, 15, 25)),
    "horn": ((4, 12, 30, 50), (1, 4, 12, 12)),
    "trombone": ((5, 18, 40, 60), (0.8, 2.5, 9, 9)),
    "tuba": ((5, 20, 40, 60), (0.4, 1.5, 5, 5)),
}
LEVELS = ("soft", "typical", "loud", "limit")
PUBLISHED = {("trumpet-soft", "force_n"), ("trumpet-loud", "force_n"), ("trumpet-limit", "mouth_pressure_kpa")}


@pytest.mark.parametrize("instrument", PRESETS)
def test_presets_hold_the_numbers_they_were_given(instrument: str) -> None:
    loads = [library_load(f"{instrument}-{level}").values for level in LEVELS]
    forces, pressures = PRESETS[instrument]
    assert tuple(load["force_n"] for load in loads) == forces
    assert tuple(load["mouth_pressure_kpa"] for load in loads) == pressures


def test_only_what_was_published_is_said_to_be() -> None:
    said = {
        (name, key)
        for name in load_names()
        for key, source in library_load(name).sources.items()
        if source.startswith("[V]")
    }
    assert said == PUBLISHED
    assert set(load_names()) == {f"{instrument}-{level}" for instrument in PRESETS for level in LEVELS}


def test_every_tag_that_is_printed_is_explained() -> None:
    told = listing()
    sources = [source for name in load_names() for source in library_load(name).sources.values()]
    for tag in {source.partition("]")[0] + "]" for source in sources if source.startswith("[")}:
        assert f"  {tag} {TAGS[tag]}" in told


def test_a_report_explains_the_tags_in_the_same_words() -> None:
    assert all(f"{tag} {words}" in asset("report.html") for tag, words in TAGS.items())

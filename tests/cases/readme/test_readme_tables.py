"""The README's tables are what the code declares and last solved."""

from __future__ import annotations

from pathlib import Path

import pytest

from labrum.cases.readme.rules import BORNE_OUT, NOT_BORNE_OUT, Rule, rule_case
from labrum.cases.readme.tables import ReadmeTable, TableNotFound, kept_numbers, shown_number, written_into
from labrum.simulate.measures.catalogue import CATALOGUE

README = Path(__file__).parents[3] / "README.md"


def test_the_readmes_tables_are_up_to_date() -> None:
    """Else: python -m labrum.cases.readme."""
    text = README.read_text(encoding="utf-8")
    assert text == written_into(text, kept_numbers())


def test_every_measure_has_a_row_of_its_own() -> None:
    rows = [line for line in README.read_text(encoding="utf-8").splitlines() if line.startswith("| `")]
    assert [row.split("`")[1] for row in rows[: len(CATALOGUE)]] == list(CATALOGUE)


def test_every_rule_has_numbers_and_every_number_a_rule() -> None:
    assert sorted(kept_numbers()) == sorted(rule.says for rule in (*BORNE_OUT, *NOT_BORNE_OUT))


def test_a_pair_tells_what_differs_and_what_is_unlike_the_usual_case() -> None:
    rule = Rule("r", "sink_mm", rule_case("thin", 5.0, width_mm=5.8), rule_case("thin", 5.0, width_mm=4.0), (1.1, 1.2))
    assert rule.pair() == "thin lip, 5 N: width 5.8 → 4 mm"
    assert Rule("r", "sink_mm", rule_case("thin"), rule_case("fleshy"), (1.1, 1.2)).pair() == "lip thin → fleshy"


@pytest.mark.parametrize(
    ("value", "shown"), [(83.9086, "83.91"), (0.997259, "0.9973"), (1999.96, "2000"), (0.5, "0.5000")]
)
def test_numbers_are_shown_with_four_digits(value: float, shown: str) -> None:
    assert shown_number(value) == shown


def test_a_table_goes_between_its_marks_and_nowhere_else() -> None:
    text = "a\n<!-- t : written by python -m labrum.cases.readme -->\nold\n<!-- end -->\nb\n"
    made = ReadmeTable("t", ("| new |",)).put_into(text)
    assert "old" not in made
    assert made.startswith("a\n<!-- t")
    assert made.endswith("| new |\n\n<!-- end -->\nb\n")
    assert ReadmeTable("t", ("| new |",)).put_into(made) == made
    with pytest.raises(TableNotFound, match="other"):
        ReadmeTable("other", ()).put_into(text)

"""The README's tables are what the code declares and last solved."""

from __future__ import annotations

from pathlib import Path

import pytest

from labrum.cases.readme.findings import NoFinding, finding, kept_findings, lips_of
from labrum.cases.readme.rules import BORNE_OUT, NOT_BORNE_OUT, Rule, rule_case
from labrum.cases.readme.tables import ReadmeTable, TableNotFound, shown_number, written_into
from labrum.simulate.conclusions.varied_lips import own_name
from labrum.simulate.measures.catalogue import CATALOGUE, Measures
from labrum.simulate.problem import Aim
from tests.some_measures import some_measures

README = Path(__file__).parents[3] / "README.md"


def test_the_readmes_tables_are_up_to_date() -> None:
    """Else: python -m labrum.cases.readme."""
    text = README.read_text(encoding="utf-8")
    assert text == written_into(text, kept_findings())


def test_every_measure_has_a_row_of_its_own() -> None:
    rows = [line for line in README.read_text(encoding="utf-8").splitlines() if line.startswith("| `")]
    assert [row.split("`")[1] for row in rows[: len(CATALOGUE)]] == list(CATALOGUE)


def test_every_rule_has_numbers_and_every_number_a_rule() -> None:
    assert sorted(kept_findings()) == sorted(rule.says for rule in (*BORNE_OUT, *NOT_BORNE_OUT))


def test_a_pair_tells_what_differs_and_what_is_unlike_the_usual_case() -> None:
    rule = Rule("r", "sink_mm", rule_case("thin", 5.0, width_mm=5.8), rule_case("thin", 5.0, width_mm=4.0), (1.1, 1.2))
    assert rule.pair() == "thin lip, 5 N: width 5.8 → 4 mm"
    assert Rule("r", "sink_mm", rule_case("thin"), rule_case("fleshy"), (1.1, 1.2)).pair() == "lip thin → fleshy"


def test_a_pair_at_one_mean_pressure_says_so() -> None:
    pair = [rule_case("fleshy", mean_pressure_kpa=55.0, width_mm=width) for width in (4.0, 5.8)]
    assert Rule("r", "sink_mm", *pair, (1.1, 1.2)).pair() == (
        "fleshy lip, at one mean pressure, 55 kPa: width 4 → 5.8 mm"
    )
    assert pair[0].problem().load.aim == Aim("mean_pressure_kpa", 55.0)


def test_a_finding_counts_the_lips_that_go_the_same_way() -> None:
    """Peaks of 100 kPa, good to 1 %, against 110: up. Then one lip the other way, one not told apart, one lost, one
    whose second case is lost: only the usual one is like itself. The ratio is 1.1, good to 1.1 times the root of 2 %.
    """
    rule = Rule("r", "peak_pressure_kpa", rule_case(width_mm=5.8), rule_case(width_mm=4.0), (1.0, 1.2))
    names = [lip.name for lip in lips_of(rule.first.problem())]
    own = own_name(rule.first.problem())
    assert names[0] == own
    odd = names[1:]
    first = {name: peaking(100.0) for name in names} | {odd[2]: None}
    second = {name: peaking(110.0) for name in names}
    second |= {odd[0]: peaking(90.0), odd[1]: peaking(101.0), odd[3]: None}
    found = finding(rule, first, second)
    assert (found.first, found.second, found.holds, found.of) == (100.0, 110.0, 1, 5)
    assert found.ratio_error == pytest.approx(0.011 * 2**0.5)
    with pytest.raises(NoFinding, match="r: no peak_pressure_kpa in the usual lip"):
        finding(rule, first | {own: None}, second)


def peaking(peak: float) -> Measures:
    return some_measures(peak_pressure_kpa=peak, peak_pressure_error_percent=1.0)


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

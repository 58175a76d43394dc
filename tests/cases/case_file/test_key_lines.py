"""The locator against texts whose lines are known because the test wrote them line by line."""

from __future__ import annotations

import tomllib
from textwrap import dedent

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labrum.cases.case_file.toml_positions import key_lines, line_of


def test_every_way_of_writing_a_key_is_found() -> None:
    text = dedent('''\
        top = 1                       # line 1
        "quoted key" = "a = b # c"
        a.b . "c.d" = [1, 2]
        [table]
        text = """
        [not.a.table]
        key = 1 \\""" still inside
        """
        literal = \'\'\'
        [[nor.this]]\'\'\'
        list = [
          [1, 2],   # a comment ] with a bracket
          # and a line of comment
          ["x]", 'y]'], {in = 1},
        ]
        inline = { one = 1, "two" = { three = "}" } }
        [[row]]
        name = "first"
        [[row]]
        name = "second"
        [row.inside]
        when = 2020-01-01 10:00:00
        [ deep . er ]
        last = true''')
    tomllib.loads(text)
    lines = key_lines(text)
    assert lines[("top",)] == 1
    assert lines[("quoted key",)] == 2
    assert lines[("a",)] == lines[("a", "b", "c.d")] == 3
    assert lines[("table",)] == 4
    assert lines[("table", "text")] == 5
    assert lines[("table", "literal")] == 9
    assert lines[("table", "list")] == 11
    assert lines[("table", "list", 0)] == 12
    assert lines[("table", "list", 1)] == lines[("table", "list", 2, "in")] == 14
    assert lines[("table", "inline", "two", "three")] == 16
    assert lines[("row",)] == lines[("row", 0)] == 17
    assert lines[("row", 0, "name")] == 18
    assert lines[("row", 1)] == 19
    assert lines[("row", 1, "name")] == 20
    assert lines[("row", 1, "inside")] == 21
    assert lines[("row", 1, "inside", "when")] == 22
    assert lines[("deep", "er", "last")] == 24
    assert not any("not" in path or "nor" in path for path in lines)


@pytest.mark.parametrize("quotes", ['"""', "'''"])
@pytest.mark.parametrize("ending", ["", "x", "x\n"])
@pytest.mark.parametrize("extra", [0, 1, 2])
def test_multi_line_strings_may_end_in_quotes_of_their_own(quotes: str, ending: str, extra: int) -> None:
    text = f"a = {quotes}{ending}{quotes[0] * extra if ending else ''}{quotes}\nb = 1\n"
    tomllib.loads(text)
    assert key_lines(text)[("b",)] == text.count("\n")


def test_windows_line_ends_count_once() -> None:
    assert key_lines("a = 1\r\n\r\n[t]\r\nb = 2\r\n") == {("a",): 1, ("t",): 3, ("t", "b"): 4}


def test_a_missing_key_is_placed_at_the_table_around_it() -> None:
    lines = key_lines("schema = 1\n\n[rim]\nwidth_mm = 5\n")
    assert line_of(lines, ("rim", "high_point")) == 3
    assert line_of(lines, ("lip", "radius_mm")) == 1


KEYS = st.sampled_from(["a", "b", "c_mm", "'d e'", '"f.g"', '"h\\"i"'])
VALUES = st.sampled_from(
    [
        "1",
        "-2.5e3",
        "true",
        "nan",
        '"x # y"',
        "'''\nz\n'''",
        '"""\n[q]\nr = 1"""',
        "[]",
        "[ 1,\n  2, # three\n]",
        "{}",
    ]
)
BLANKS = st.sampled_from(["", "\n", "# a = 1\n", "   \n\t\n"])


def unquoted(key: str) -> str:
    return next(iter(tomllib.loads(f"{key} = 1")))


@given(st.lists(st.tuples(BLANKS, st.dictionaries(KEYS, VALUES, max_size=4)), max_size=6))
def test_generated_texts_are_located_where_they_were_written(rows: list[tuple[str, dict[str, str]]]) -> None:
    text, expected = "", {}
    for index, (blank, pairs) in enumerate(rows):
        text += blank
        expected[("rows", index)] = text.count("\n") + 1
        text += "[[rows]]\n"
        for key, value in pairs.items():
            expected[("rows", index, unquoted(key))] = text.count("\n") + 1
            text += f"{key} = {value}\n"
    tomllib.loads(text)
    lines = key_lines(text)
    assert {path: lines[path] for path in expected} == expected

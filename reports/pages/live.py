"""The pages of the explorer: the bench and the lessons, served or in one file."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

import jinja2
from markupsafe import Markup

from labrum.reports.house_style.style import SERIES
from labrum.reports.pages.report import asset

LOOKS = [{"colour": look.colour, "dashes": _dashes} for look, _dashes in zip(
    SERIES, ("", "5 2", "1.5 1.5", "5 2 1.5 2", "8 2.5", "3 1.5 1 1.5 1 1.5"), strict=True)]  # fmt: skip
"""The six looks of the figures, dashes as a page writes them."""


def bench_page(start: Mapping[str, Any]) -> str:
    """Write the page with knobs; ``start`` holds what its script begins with."""
    return _template("bench.html").render(start=Markup(script_safe({**start, "looks": LOOKS})))


def lessons_page(index: Sequence[Mapping[str, str]]) -> str:
    """Write the list of lessons: name, title and summary of each."""
    return _template("lessons.html").render(index=index)


def lesson_page(lesson: Mapping[str, Any], solved: Mapping[str, Any]) -> str:
    """Write one lesson; states not in ``solved``, by their keys, are left to the program behind the page."""
    data = Markup(script_safe({"lessons": [lesson], "looks": LOOKS, "solved": solved}))
    return _template("lesson.html").render(lessons=[lesson], data=data, alone=False, scripts=(), style="")


def lessons_file(lessons: Sequence[Mapping[str, Any]], solved: Mapping[str, Any]) -> str:
    """Write all lessons as one HTML file that works offline; ``solved`` holds every case's picture by its key."""
    data = Markup(script_safe({"lessons": list(lessons), "looks": LOOKS, "solved": solved}))
    scripts = tuple(Markup(asset(name)) for name in ("draw.js", "lesson.js"))
    return _template("lesson.html").render(
        lessons=lessons, data=data, alone=True, scripts=scripts, style=Markup(asset("live.css"))
    )


def script_safe(data: Any) -> str:
    """Write data as JSON that can stand inside a script element, whatever words are in it."""
    text = json.dumps(data, allow_nan=False)
    for letter in "<>&\u2028\u2029":
        text = text.replace(letter, f"\\u{ord(letter):04x}")
    return text


@cache
def _template(name: str) -> jinja2.Template:
    engine = jinja2.Environment(
        loader=jinja2.PackageLoader("labrum.reports", "assets"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return engine.get_template(name)

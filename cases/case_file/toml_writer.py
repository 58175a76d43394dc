"""Writes a resolved case as the text of a case file."""

from __future__ import annotations

import json
from typing import Any


def case_text(resolved: dict[str, Any], title: str) -> str:
    """Return a case file that reads back as the case given, under another title."""
    lines = [f"schema = {resolved['schema']}", f"title = {_value(title)}"]
    for name, table in resolved.items():
        if isinstance(table, dict):
            lines += ["", f"[{name}]", *_table(table)]
            for key, items in table.items():
                if _is_tables(items):
                    for item in items:
                        lines += ["", f"[[{name}.{key}]]", *_table(item)]
    return "\n".join(lines) + "\n"


def _table(table: dict[str, Any]) -> list[str]:
    return [f"{key} = {_value(value)}" for key, value in table.items() if not _is_tables(value)]


def _is_tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and isinstance(value[0], dict)


def _value(value: Any) -> str:
    """Write a text, a number, a truth or a list: JSON's forms of these are TOML's.

    But TOML has no pairs of escapes for one character beyond the first plane, and wants DEL escaped.
    """
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")

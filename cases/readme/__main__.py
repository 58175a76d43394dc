"""Writes the README's tables: ``python -m labrum.cases.readme``, with ``--solve`` the rules' cases solved anew."""

from __future__ import annotations

import argparse
import sys
from functools import cache
from pathlib import Path

from labrum.cases.readme.rules import BORNE_OUT, NOT_BORNE_OUT, RuleCase
from labrum.cases.readme.tables import RuleNumbers, keep_numbers, kept_numbers, written_into

README = Path("README.md")


def solved_numbers() -> RuleNumbers:
    """Solve every pair of the rules, each case once; raises `labrum.simulate.NotConverged`."""
    solved = cache(RuleCase.solved)
    found = {}
    for rule in (*BORNE_OUT, *NOT_BORNE_OUT):
        first, second = (float(getattr(solved(case), rule.measure)) for case in (rule.first, rule.second))
        print(f"{rule.says}: {first:.6g} to {second:.6g}", file=sys.stderr, flush=True)
        found[rule.says] = (first, second)
    return found


def main() -> None:
    """Write the tables into the README of the folder that the command is called from."""
    parser = argparse.ArgumentParser(prog="python -m labrum.cases.readme", description="Write the README's tables.")
    parser.add_argument("--solve", action="store_true", help="solve the rules' cases anew first (a few minutes)")
    order = parser.parse_args()
    if not README.is_file():
        parser.error(f"there is no {README} here: call it from the repository's root")
    if order.solve:
        keep_numbers(solved_numbers())
    README.write_text(written_into(README.read_text(encoding="utf-8"), kept_numbers()), encoding="utf-8")


if __name__ == "__main__":
    main()

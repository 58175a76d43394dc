"""Writes the README's tables: ``python -m labrum.cases.readme``, with ``--solve`` the rules' cases solved anew."""

from __future__ import annotations

import argparse
from pathlib import Path

from labrum.cases.readme.findings import found, keep_findings, kept_findings
from labrum.cases.readme.tables import written_into

README = Path("README.md")


def main() -> None:
    """Write the tables into the README of the folder that the command is called from."""
    parser = argparse.ArgumentParser(prog="python -m labrum.cases.readme", description="Write the README's tables.")
    words = "solve the rules' cases anew first, in five lips each (ten minutes or more)"
    parser.add_argument("--solve", action="store_true", help=words)
    parser.add_argument("--workers", type=int, default=0, help="processes that solve; 0: one a processor")
    order = parser.parse_args()
    if not README.is_file():
        parser.error(f"there is no {README} here: call it from the repository's root")
    if order.solve:
        keep_findings(found(order.workers))
    README.write_text(written_into(README.read_text(encoding="utf-8"), kept_findings()), encoding="utf-8")


if __name__ == "__main__":
    main()

"""The command ``python -m tests.benchmarks``: measure, print a table, keep the numbers; or compare two runs."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from .compare import comparison
from .isolated import measured
from .suite import GROUPS, Measurement, judged, measurements
from .table import report

SCHEMA = 1


def main() -> None:
    """Read the command line and do what it asks."""
    asked = _read()
    if asked.compare:
        before, after = (json.loads(path.read_text(encoding="utf-8")) for path in asked.compare)
        print(comparison(before, after))
        return
    wanted = [one for one in measurements(asked.quick) if not asked.only or one.group in asked.only]
    print(report(_measured(wanted, asked.quick, asked.out)))


def _read() -> argparse.Namespace:
    parser = argparse.ArgumentParser("python -m tests.benchmarks", description=sys.modules[__package__ or ""].__doc__)
    add = parser.add_argument
    add("--only", action="append", choices=GROUPS, help="measure this; may be repeated (default: all)")
    add("--out", type=Path, metavar="FILE", help="write the numbers here, as JSON, after each measurement")
    add("--quick", action="store_true", help="one run of each, at 1 %% and on one core, fewer cases")
    add("--compare", nargs=2, type=Path, metavar=("BEFORE", "AFTER"), help="show two such files side by side")
    return parser.parse_args()


def _measured(wanted: list[Measurement], quick: bool, out: Path | None) -> dict[str, Any]:
    """Measure one after the other, telling which on stderr; what is found is kept at once."""
    result: dict[str, Any] = {"schema": SCHEMA, "quick": quick, "machine": measured("machine", 1, {})}
    result |= {"measurements": {}, "goals": []}
    for place, one in enumerate(wanted):
        print(f"{place + 1}/{len(wanted)} {one.label}", file=sys.stderr, flush=True)
        found = measured(one.job, one.cores, dict(one.options))
        result["measurements"][one.label] = {"cores": one.cores, "asked": dict(one.options), **found}
        result["goals"] = judged(result["measurements"])
        if out is not None:
            out.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    return result


if __name__ == "__main__":
    main()

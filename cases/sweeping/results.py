"""The table of a sweep: what was varied, what came of it, every measure; and its export."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from labrum.cases.exits import CannotDo
from labrum.cases.overwriting import refuse_taken_file
from labrum.cases.solving.run_folder import try_folder
from labrum.cases.sweeping.runner import Row
from labrum.reports.house_style.figure_data import Table, write_csv
from labrum.simulate.measures.catalogue import CATALOGUE

ENDINGS = (".csv", ".parquet")
ESTIMATED = tuple(name for name, measure in CATALOGUE.items() if measure.error is not None)


class CannotExport(CannotDo):
    """A table that cannot be written as asked."""


def sweep_table(rows: Sequence[Row]) -> Table:
    """One row a case: number, settings, status, reason, seconds, measures, their errors and key; else empty."""
    names = list(rows[0].member.settings)
    errors = (f"error_of_{name}" for name in ESTIMATED)
    columns = ("case", *names, "status", "reason", "seconds", *CATALOGUE, *errors, "key")
    return Table(columns, tuple(_cells(row, names) for row in rows))


def _cells(row: Row, names: Sequence[str]) -> tuple[float | int | str, ...]:
    member, measures = row.member, row.measures
    values = [*(measures.get(name) for name in CATALOGUE), *(row.errors.get(name) for name in ESTIMATED)]
    return (
        member.number,
        *(member.settings[name] for name in names),
        row.status,
        row.reason,
        "" if row.solved is None else row.solved.seconds,
        *("" if value is None else value for value in values),
        member.key,
    )


def export(rows: Sequence[Row], path: Path) -> Path:
    """Write the table as CSV or Parquet, by the file's ending.

    Raises
    ------
    CannotExport
        For another ending, or Parquet without the extra.
    """
    _refuse_other_endings(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    table = sweep_table(rows)
    return write_csv(table, path) if path.suffix == ".csv" else _write_parquet(table, path)


def try_export(path: Path, force: bool = False) -> None:
    """Try whether the table can be written at a path, before it is solved; raises `CannotDo`.

    What stands there is written over only with ``force``.
    """
    _refuse_other_endings(path)
    refuse_taken_file(path, force)
    try_folder(path.parent, path.name)


def _refuse_other_endings(path: Path) -> None:
    if path.suffix not in ENDINGS:
        raise CannotExport(f"{path}: the ending must be one of {', '.join(ENDINGS)}")


def _write_parquet(table: Table, path: Path) -> Path:
    try:
        import pyarrow
        from pyarrow import parquet
    except ModuleNotFoundError:
        raise CannotExport("Parquet needs an extra: pip install 'labrum[parquet]'") from None
    columns: dict[str, list[Any]] = {
        name: _of_one_kind([row[place] for row in table.rows]) for place, name in enumerate(table.columns)
    }
    parquet.write_table(pyarrow.table(columns), path)
    return path


def _of_one_kind(values: list[Any]) -> list[Any]:
    """Make a column fit for typed storage: nothing where it was empty, text where words stand among numbers."""
    words = [v for v in values if isinstance(v, str) and v]
    if words:
        return [str(v) for v in values]
    return [None if v == "" else v for v in values]

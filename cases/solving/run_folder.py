"""The folder of one run: filled under a temporary name, renamed when whole, never written over another."""

from __future__ import annotations

import csv
import io
import json
import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path
from typing import Any

from labrum.cases.exits import CannotDo
from labrum.cases.overwriting import UnusableFolder, clear_away, put_in_place, refuse_taken_folder
from labrum.cases.places import ImpossibleName, is_taken, reason_of
from labrum.cases.solving.leftovers import MARK, Claim, settle_set_aside, sweep_folders
from labrum.cases.solving.vtu import FIELDS_NOTE
from labrum.simulate.outcome import StepRecord

CONTENTS = f"""\
case.toml            the case as given
case.resolved.json   the case with every default and library value filled in
inputs/              the other files the case drew on, if any
result.json          what `labrum solve --json` prints: lengths mm, forces N, pressures kPa
history.csv          one row an iteration: where the solve stood, relative residual, contact changes
fields.vtu           the section with displacement, stress and stretch (below)
figures/             pressure along the rim; the pressed section; what was asked off the axis
log.txt              what was told on the way
provenance.json      versions, machine, command, times, hashes of the inputs, and the status of the run

fields.vtu
{FIELDS_NOTE}
"""


MOST_LEFTOVERS, LONGEST_STEM = 100, 100


@dataclass(frozen=True)
class RunFolder:
    """A run folder in the making: ``place`` now, ``target`` when whole; ``claim`` tells others that it is at work.

    With ``force`` it takes the place of what stands at the target.
    """

    target: Path
    place: Path
    claim: Claim
    force: bool = False

    @classmethod
    def begin(cls, target: Path, force: bool = False) -> RunFolder:
        """Make the temporary folder beside the target, and sweep away what dead processes left there unfinished.

        Raises
        ------
        UnusableFolder
            If the target is taken, or nothing can be written there.
        ImpossibleName
            If nothing can ever have that name.
        """
        try:
            settle_set_aside(target)
            refuse_taken_folder(target, force)
            # "." has no name to put a part beside
            target = target if target.name.strip(".") else Path(os.path.abspath(target))
            sweep_folders(target.parent)
            return cls(target, *_claimed_beside(target), force)
        except UnusableFolder:
            raise
        except OSError as error:
            raise UnusableFolder(f"cannot write to {target.parent}: {reason_of(error)}") from None
        except ValueError:
            raise ImpossibleName(target) from None

    def write(self, name: str, content: str | bytes) -> None:
        """Write one file, in a folder of its own where the name has one."""
        path = self.place / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)

    def write_json(self, name: str, content: dict[str, Any]) -> None:
        """Write one file of JSON."""
        self.write(name, json.dumps(content, indent=2, allow_nan=False) + "\n")

    def log(self, line: str) -> None:
        """Add a line to ``log.txt``; it is on disk when this returns."""
        with (self.place / "log.txt").open("a", encoding="utf-8") as stream:
            stream.write(line + "\n")

    def finish(self) -> Path:
        """Give the folder its name: the target's, or that with a number if somebody took it meanwhile."""
        self.write("README.txt", CONTENTS)
        return self.named()

    def named(self) -> Path:
        """Rename the folder as it stands, and give up the claim on it.

        In this order: a part without a claim that a kill leaves behind is swept by nobody.
        """
        target = self.target if self.force else free_name(self.target)
        put_in_place(self.place, target)
        self.claim.release(target)
        return target


def _claimed_beside(target: Path) -> tuple[Path, Claim]:
    """Make and claim the folder to fill.

    One of this process's number that is there already was left by a process now dead; one that is gone before it is
    claimed was swept by another process, which takes what is empty for left behind.
    """
    target.parent.mkdir(parents=True, exist_ok=True)
    for number in range(1, MOST_LEFTOVERS):
        place = target.parent / f".{target.name}.part-{os.getpid()}{'' if number == 1 else f'-{number}'}"
        with suppress(FileExistsError, FileNotFoundError):
            place.mkdir()
            return place, Claim.on(place)
    raise UnusableFolder(f"{target.parent} is full of folders that were never finished: remove .{target.name}.part-*")


def usual_stem(place: str) -> str:
    """Name of a case's or a plan's file without its ending, short enough to become part of another name."""
    return Path(place).stem[:LONGEST_STEM]


def try_target(target: Path) -> None:
    """Try whether a file can be written at a place, before what is to stand in it is worked out.

    Raises
    ------
    CannotDo
        If not.
    ImpossibleName
        If nothing can ever have that name.
    """
    part = target.with_name(f".{target.name}.try-{os.getpid()}")
    try:
        for trial in (*target.parent.glob(f".{target.name}.try-*"), part):  # also of processes that were killed
            trial.touch()
            trial.unlink(missing_ok=True)
    except OSError as error:
        raise CannotDo(f"cannot write {target}: {reason_of(error)}") from None
    except ValueError:
        raise ImpossibleName(target) from None


def try_new_folder(folder: Path, force: bool) -> None:
    """Try whether a folder can be made to hold an answer, before that is worked out; leaves nothing behind.

    What a killed process had set aside there is put back first.

    Raises
    ------
    CannotDo
        If not; also where something is in it that ``force`` does not let be written over.
    ImpossibleName
        If nothing can ever have that name.
    """
    try:
        settle_set_aside(folder)
        refuse_taken_folder(folder, force)
    except OSError as error:
        raise CannotDo(f"cannot write to {folder}: {reason_of(error)}") from None
    except UnusableFolder:
        raise
    except ValueError:
        raise ImpossibleName(folder) from None
    try_folder(folder)


def try_folder(folder: Path, name: str = "answer") -> None:
    """Try whether a file called ``name`` can be written to a folder, made already or not, and leave nothing behind.

    Raises
    ------
    CannotDo
        If not.
    ImpossibleName
        If nothing can ever have that name.
    """
    try:
        made = [place for place in (folder, *folder.parents) if not place.exists()]
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise CannotDo(f"cannot write to {folder}: {reason_of(error)}") from None
    except ValueError:
        raise ImpossibleName(folder) from None
    try:
        try_target(folder / name)
    finally:
        for place in made:
            place.rmdir()


@dataclass
class Kept:
    """A folder being filled; ``at`` is where it stands once it is whole."""

    folder: RunFolder
    at: Path


@contextmanager
def whole_or_gone(target: Path, force: bool = False) -> Iterator[Kept]:
    """Fill a folder under a temporary name; give it its own when all is in it, and remove it if anything goes wrong.

    Even an interrupt removes it, and is raised again. Raises `UnusableFolder` where the target is taken, unless
    ``force`` lets it take the place of what stands there.
    """
    folder = RunFolder.begin(target, force)
    kept = Kept(folder, folder.target)
    try:
        yield kept
        kept.at = folder.named()
    except BaseException:
        clear_away(folder.place, (MARK,))
        raise


def free_name(wanted: Path) -> Path:
    """``wanted``, or the first of ``wanted-2``, ``wanted-3``, … that is free; an empty folder is."""
    name, number = wanted, 1
    while is_taken(name):
        number += 1
        name = wanted.with_name(f"{wanted.name}-{number}")
    return name


def history_csv(history: Iterable[StepRecord]) -> str:
    """One row an iteration, in the order solved."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(
        (
            "step",
            "stage",
            "force_n",
            "sink_mm",
            "unknowns",
            "iteration",
            "relative_residual",
            "contact_changes",
        )
    )
    for step, record in enumerate(history, 1):
        for iteration, (residual, changes) in enumerate(
            zip_longest(record.residuals, record.contact_changes, fillvalue=""), 1
        ):
            row = (
                step,
                record.stage,
                record.force_n,
                record.sink_mm,
                record.unknowns,
                iteration,
                residual,
                changes,
            )
            writer.writerow(row)
    return out.getvalue()

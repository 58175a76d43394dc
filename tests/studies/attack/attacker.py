"""One process that attacks: inputs mutated and taken one after another, and what must not happen counted and kept."""

from __future__ import annotations

import hashlib
import json
import os
import random
import resource
import shutil
import signal
import tempfile
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

from tests.studies.attack.entries import Entry, Unexpected, entries, stand_in
from tests.studies.attack.guide import Guide
from tests.studies.attack.mutations import mutated

LONGEST_S, SLICE_S = 10.0, 2.0
LARGEST_BYTES, ENDS_AT_BYTES = 1 << 30, 4 << 30


class TooLong(BaseException):
    """Ends what an input has done for too long; nothing in the program catches it."""


class Found:
    """What one process counts and keeps, written to OUT whenever a slice of time is over."""

    def __init__(self, out: Path, number: int) -> None:
        self.out, self.number = out, number
        self.counts: dict[str, Counter[str]] = {}
        self.slowest: dict[str, float] = {}

    def count(self, entry: str, column: str) -> None:
        self.counts.setdefault(entry, Counter())[column] += 1

    def keep(self, entry: str, column: str, content: bytes, words: str) -> None:
        """Count it; the input is kept where none was for the same words."""
        self.count(entry, column)
        name = f"{entry}-{column.split()[-1]}-{hashlib.sha1(words.encode()).hexdigest()[:8]}"
        place = self.out / "found" / f"{name}.bin"
        if not place.exists():
            place.write_bytes(content)
            place.with_suffix(".txt").write_text(words, "utf-8", "backslashreplace")

    def write(self) -> None:
        """Write what there is so far."""
        told = {"counts": self.counts, "slowest": self.slowest}
        (self.out / f"counts-{self.number}.json").write_text(json.dumps(told))


def attack(out: Path, number: int, seconds: float, seed: int) -> None:
    """One process's attack: each entry in turn for a slice of time."""
    warnings.simplefilter("error")
    warnings.simplefilter("ignore", ResourceWarning)  # of the event loop that lives as long as the process
    stand_in()
    rng, guide, found = random.Random(f"{seed} {number}"), Guide(), Found(out, number)
    signal.signal(signal.SIGPROF, _too_long)
    resource.setrlimit(resource.RLIMIT_AS, (ENDS_AT_BYTES, ENDS_AT_BYTES))
    every = entries()
    corpora = {name: [*entry.seeds, *_kept(out, name)] for name, entry in every.items()}
    ends = time.monotonic() + seconds
    with sandbox() as box:
        while time.monotonic() < ends:
            for name, entry in every.items():
                slice_ends = min(ends, time.monotonic() + SLICE_S)
                while time.monotonic() < slice_ends:
                    content = mutated(rng, corpora[name])
                    (out / f"now-{number}").write_bytes(f"{name}\n".encode() + content)
                    take(entry, content, box, found)
                    if guide.news():
                        corpora[name].append(content)
                        _keep(out, name, content)
                found.write()
    (out / f"now-{number}").unlink()


def take(entry: Entry, content: bytes, box: Path, found: Found) -> None:
    """Have one input taken, and see what comes of it."""
    before, started, told = _largest(), time.process_time(), ""
    signal.setitimer(signal.ITIMER_PROF, LONGEST_S)
    try:
        told = entry.take(content)
    except TooLong:
        found.keep(entry.name, "over 10 s", content, _where())
    except MemoryError:
        found.keep(entry.name, "over 1 GB", content, _where())
    except Exception as error:
        found.keep(entry.name, "exceptions", content, _where() if not isinstance(error, Unexpected) else str(error))
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
    found.count(entry.name, "inputs")
    found.slowest[entry.name] = max(found.slowest.get(entry.name, 0.0), time.process_time() - started)
    if before < LARGEST_BYTES <= _largest():
        found.keep(entry.name, "over 1 GB", content, f"{_largest()} bytes")
    if any(c != "\n" and not c.isprintable() for c in told):
        found.keep(entry.name, "control characters", content, "told: " + ascii(told)[:300])
    _tidy(entry, content, box, found)


def _tidy(entry: Entry, content: bytes, box: Path, found: Found) -> None:
    """Look for files where none may be, and take away what there is."""
    strangers = [path for path in box.iterdir() if path.name != "work"]
    work = [*(box / "work").iterdir()]
    if not entry.writes:
        strangers += work[1:]
    if strangers:
        found.keep(entry.name, "files elsewhere", content, f"{sorted(path.name for path in strangers)}")
    for path in (*strangers, *work):
        if path.is_dir() and not path.is_symlink():
            shutil.rmtree(path)
        else:
            path.unlink(missing_ok=True)


@contextmanager
def sandbox() -> Iterator[Path]:
    """A folder with another in it, where this process then is; home and all temporary files are in the outer one."""
    with tempfile.TemporaryDirectory() as name:
        box = Path(name)
        (box / "work").mkdir()
        os.environ.update(HOME=name, XDG_CACHE_HOME=name, MPLCONFIGDIR=tempfile.gettempdir())
        os.chdir(box / "work")
        tempfile.tempdir = name
        yield box
        os.chdir("/")


def _too_long(number: int, frame: FrameType | None) -> None:
    raise TooLong


def _where() -> str:
    return traceback.format_exc()[-3000:]


def _largest() -> int:
    """Most memory, bytes, that this process ever had."""
    return 1024 * resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


def _kept(out: Path, name: str) -> list[bytes]:
    return [path.read_bytes() for path in sorted((out / "corpus" / name).glob("*"))]


def _keep(out: Path, name: str, content: bytes) -> None:
    (out / "corpus" / name / hashlib.sha1(content).hexdigest()[:16]).write_bytes(content)

"""Keeps the record of a run as it goes, so that whatever was computed outlives whatever went wrong.

Whoever keeps nothing does not load what writes it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from labrum.cases.case_file.building import Case
from labrum.cases.solving.result import converged_result, unconverged_result
from labrum.cases.solving.screen import progress_line
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import NotConverged, Progress

if TYPE_CHECKING:
    from labrum.cases.solving.run_folder import RunFolder

Draw = Callable[[Outcome, str, Path], object]
DayClock = Callable[[], datetime]


class Record(Protocol):
    """Where a run is written down."""

    @property
    def place(self) -> Path | None:
        """The folder that is being filled; None where nothing is written."""

    def progress(self, report: Progress) -> None:
        """Note one iteration."""

    def converged(self, outcome: Outcome, robustness: dict[str, Any] | None = None) -> Path | None:
        """Keep a converged run; return where."""

    def failed(self, error: BaseException, trace: str) -> Path | None:
        """Keep what there is of a run that came to nothing; return where."""


class NoRecord:
    """Writes nothing down."""

    place: None = None

    def progress(self, report: Progress) -> None:
        """Note nothing."""

    def converged(self, outcome: Outcome, robustness: dict[str, Any] | None = None) -> None:
        """Keep nothing."""

    def failed(self, error: BaseException, trace: str) -> None:
        """Keep nothing."""


@dataclass(frozen=True)
class FolderRecord:
    """Writes a run to its folder; ``draw`` makes the figures, ``clock`` gives the time in UTC."""

    folder: RunFolder
    case: Case
    command: tuple[str, ...]
    draw: Draw
    clock: DayClock
    started: datetime

    @classmethod
    def begin(
        cls, target: Path, case: Case, command: tuple[str, ...], draw: Draw, clock: DayClock, force: bool = False
    ) -> FolderRecord:
        """Make the folder and write down what goes in; ``force`` lets it take the place of a former run.

        Raises
        ------
        UnusableFolder
            If the folder cannot be made.
        """
        from labrum.cases.solving.run_folder import RunFolder

        record = cls(RunFolder.begin(target, force), case, command, draw, clock, clock())
        for name, data in record._inputs().items():
            record.folder.write(name, data)
        record.folder.write_json("case.resolved.json", _with_own_inputs(case))
        for text in case.warnings:
            record.folder.log(f"warning: {text}")
        return record

    @property
    def place(self) -> Path:
        """The folder that is being filled."""
        return self.folder.place

    def progress(self, report: Progress) -> None:
        """Note one iteration in the log."""
        self.folder.log(progress_line(report))

    def converged(self, outcome: Outcome, robustness: dict[str, Any] | None = None) -> Path:
        """Keep result, history, fields and figures, and give the folder its name."""
        from labrum.cases.solving.run_folder import history_csv
        from labrum.cases.solving.vtu import write_fields

        self.folder.write_json("result.json", converged_result(self.case, outcome, robustness))
        self.folder.write("history.csv", history_csv(outcome.history))
        write_fields(outcome.section, self.folder.place / "fields.vtu", outcome.mode)
        figures = self.folder.place / "figures"
        figures.mkdir()
        self.draw(outcome, self.case.problem.title, figures)
        return self._close("converged")

    def failed(self, error: BaseException, trace: str) -> Path:
        """Keep log and history of a run that came to nothing, with the reason, and name the folder."""
        from labrum.cases.solving.run_folder import history_csv

        self.folder.log(trace)
        if isinstance(error, NotConverged):
            self.folder.write_json("result.json", unconverged_result(self.case, error))
            self.folder.write("history.csv", history_csv(error.history))
            return self._close("not converged")
        return self._close("interrupted" if isinstance(error, KeyboardInterrupt) else "failed")

    def _close(self, status: str) -> Path:
        from labrum.cases.solving.provenance import provenance

        # The run's own copies: what was read may have changed or gone while it was solved.
        inputs = {name: (self.folder.place / name).read_bytes() for name in self._input_names()}
        facts = provenance(self.command, self.started, self.clock(), inputs)
        from_library = {"from_library": self.case.presets}
        self.folder.write_json("provenance.json", {"status": status, **facts, **from_library})
        if status != "converged":
            self.folder.write(
                f"{status.upper().replace(' ', '-')}.txt", f"This run: {status}. See log.txt.\n"
            )
        return self.folder.finish()

    def _input_names(self) -> tuple[str, ...]:
        return ("case.toml", *(_copied(path) for path in self.case.inputs))

    def _inputs(self) -> dict[str, bytes]:
        others = {_copied(path): path.read_bytes() for path in self.case.inputs}
        return {"case.toml": self.case.given, **others}


def _copied(path: Path) -> str:
    """Name in the run folder of a file the case drew on; in a folder of their own they hide none of ours."""
    return f"inputs/{path.name}"


def _with_own_inputs(case: Case) -> dict[str, Any]:
    """Point the resolved case at the run folder's copies: it then solves anywhere."""
    rim = case.resolved["rim"]
    return {**case.resolved, "rim": {**rim, "trace": _copied(Path(rim["trace"]))} if "trace" in rim else rim}

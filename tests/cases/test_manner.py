"""What every command does alike: it tells its iterations where asked, and ends in order when told to end."""

from __future__ import annotations

import inspect
import os
import signal
import subprocess
import sys
from pathlib import Path
from urllib.request import urlopen

import pytest
import typer.main

from labrum.cases.case_file.reading import read_case
from labrum.cases.command import app
from labrum.cases.exits import DONE, TERMINATED, Ending, ended
from labrum.cases.manner import Manner
from labrum.cases.solving.screen import Narrator
from labrum.cases.sweeping.warm_start import NearSolver
from labrum.cases.workers.aloud import Aloud, solver_told
from labrum.cases.workers.task import real_solver
from labrum.simulate.problem import Progress

UNHEARD = {"explore", "lessons", "lip"}
"""Pages tell on themselves how a solve goes; a lip is fitted by hundreds of coarse presses, none of which tells."""
SOLVES_NOTHING = {"show", "cut", "wide-enough", "map", "trade-off", "steadiness"}


def test_every_command_that_solves_can_be_told_to_tell_every_iteration() -> None:
    commands = typer.main.get_command(app).commands  # type: ignore[attr-defined]
    words = {name: set(inspect.signature(one.callback).parameters) for name, one in commands.items()}
    assert {name for name, some in words.items() if "verbose" not in some} == UNHEARD | SOLVES_NOTHING
    assert {name for name, some in words.items() if "workers" not in some} == SOLVES_NOTHING | {"gauge", "lip"}


def test_a_solver_told_to_tells_which_case_and_every_iteration(capsys: pytest.CaptureFixture[str]) -> None:
    report = Progress("press", 2.5, 3, 1e-5, 0.25, 4000)

    def solve(problem: object, progress: object) -> str:
        progress(report)  # type: ignore[operator]
        return "an outcome"

    problem = read_case("demo").problem
    assert Aloud(solve)(problem) == "an outcome"  # type: ignore[arg-type, comparison-overlap]
    first, second = capsys.readouterr().err.splitlines()
    assert first == (
        f"{os.getpid()}  {problem.title}: bite 16.5 mm across, rim 5.2 mm wide; 20 N, friction 0; "
        "skin 1.2 mm 50.17 kPa, core 9.4 mm 26.76 kPa, mucosa 0.9 mm 16.72 kPa"
    )
    assert second.startswith(f"{os.getpid()}  press        force    2.500 N  iteration  3  residual 1.0e-05")


def test_a_quiet_command_stays_quiet() -> None:
    assert solver_told(Manner(verbose=True, quiet=True)) is solver_told(Manner()) is real_solver
    assert solver_told(Manner(verbose=True), near := NearSolver()) == Aloud(near)


@pytest.mark.skipif(sys.platform == "win32", reason="ends by POSIX signals")
def test_told_to_end_a_command_ends_as_after_ctrl_c_with_the_code_of_the_signal(
    capsys: pytest.CaptureFixture[str],
) -> None:
    swept = []

    def work(teller: Narrator) -> int:
        try:
            os.kill(os.getpid(), signal.SIGTERM)
            signal.pause()
        finally:
            swept.append("halves")
        return DONE

    code = ended(work, Narrator(sys.stderr), Ending(interrupted="; what is finished is kept"))
    assert code == TERMINATED == 143
    assert swept == ["halves"]
    assert capsys.readouterr().err == "labrum: told to end; what is finished is kept\n"
    assert signal.getsignal(signal.SIGTERM) is signal.SIG_DFL


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="ends by POSIX signals")
@pytest.mark.parametrize(("number", "code"), [(signal.SIGTERM, 143), (signal.SIGINT, 0)])
def test_the_page_s_server_leaves_nothing_behind(tmp_path: Path, number: int, code: int) -> None:
    command = [sys.executable, "-m", "labrum.cases.command", "explore", "--no-browser", "-q", "--workers", "2",
               "--store", str(tmp_path / "kept.sqlite")]  # fmt: skip
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as server:
        assert server.stdout is not None
        with urlopen(server.stdout.readline().strip()) as page:  # the server is up
            assert page.status == 200
        server.send_signal(number)
        told = server.communicate(timeout=60)[1]
    assert (server.returncode, told) == (code, "labrum: told to end\n" if code else "")

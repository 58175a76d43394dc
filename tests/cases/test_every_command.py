"""Every command there is, asked of the program itself: what its caller closes, fills, hangs up or interrupts.

What takes long is done once, in the process that `stand_ins.told_nowhere` is, and remembered.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

import pytest
import typer

from labrum.cases.command import app
from labrum.cases.exits import DONE, INTERRUPTED, INVALID, USAGE
from tests.cases.stand_ins.remembering import SMALL, prepare

ROOT = Path(__file__).parents[2]
EVERY = sorted(typer.main.get_command(app).commands)  # type: ignore[attr-defined]
BEGIN = "from labrum.cases.entry import begin; begin()"
ENDS_WITHIN_S = 2.0
AFTER_CPU_S = (0.1, 0.4, 1.2)
"""When Ctrl-C comes, in processor time of the command: while it is being loaded, and twice later."""

BY_ITSELF = (DONE, USAGE, INVALID)
"""How a command may have ended before it was interrupted: some ask for what another one leaves."""
COMPLAINTS = ("Traceback", "Exception ignored", "fault of our own")
ENDED = getattr(os, "WEXITED", 0) | getattr(os, "WNOHANG", 0) | getattr(os, "WNOWAIT", 0)

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pipes, devices and signals of POSIX")


def test_every_command_has_its_small_job() -> None:
    assert sorted(SMALL) == EVERY


@pytest.mark.slow
def test_no_command_stumbles_where_nothing_can_be_told(tmp_path: Path) -> None:
    call = [sys.executable, "-m", "tests.cases.stand_ins.told_nowhere", str(tmp_path)]
    done = subprocess.run(call, cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr[-3000:]


OWN = {"show demo": 0, "--help": 0, "solve nosuch.toml --json": 3, "nosuch": 2}
"""Words that need no solver, and their exit codes where everything can be told."""


@pytest.mark.parametrize("words", [pytest.param(w, marks=() if w == "show demo" else pytest.mark.slow) for w in OWN])
@pytest.mark.parametrize(("where", "code"), [
    (">&-", 2), ("> /dev/full", 2), ("| head -0", 2), ("2>&- > /dev/null", None), ("2> /dev/full > /dev/null", None),
])  # fmt: skip
def test_what_cannot_be_told_has_a_code_and_no_trace(words: str, where: str, code: int | None, tmp_path: Path) -> None:
    """Without stderr the code is the command's own; where stdout takes nothing it is that of a usage that cannot be."""
    pipe, place = (where, "") if where.startswith("|") else ("", where)
    script = f"exec 3> code; {{ \"$0\" -c '{BEGIN}' {words} {place}; echo $? >&3; }} {pipe}"
    done = subprocess.run(["sh", "-c", script, sys.executable], cwd=tmp_path, capture_output=True, text=True)
    assert int((tmp_path / "code").read_text()) == (OWN[words] if code is None else code), done.stderr
    for complaint in COMPLAINTS:
        assert complaint not in done.stderr + done.stdout


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="nothing here tells another process's time")
@pytest.mark.parametrize("command", EVERY)
def test_ctrl_c_ends_every_command(command: str, tmp_path: Path) -> None:
    """Within two seconds of the processor's time, the workers' too, which no other work on the machine lengthens."""
    prepare(tmp_path)
    for after in AFTER_CPU_S:
        with (tmp_path / "told").open("w") as told:
            call = [sys.executable, "-c", BEGIN, command, *SMALL[command]]
            started = subprocess.Popen(call, cwd=tmp_path, start_new_session=True, stdout=told, stderr=told)
        while (state := os.waitid(os.P_PID, started.pid, ENDED)) is None and group_cpu(started.pid) < after:
            time.sleep(0.005)
        before = group_cpu(started.pid)
        if state is None:
            os.killpg(started.pid, signal.SIGINT)
        _, status, used = os.wait4(started.pid, 0)
        started.returncode = os.waitstatus_to_exitcode(status)
        words = (tmp_path / "told").read_text()
        assert started.returncode in (INTERRUPTED, *BY_ITSELF), words
        assert used.ru_utime + used.ru_stime - before < ENDS_WITHIN_S, (after, words)
        for complaint in (*COMPLAINTS, "Aborted"):
            assert complaint not in words, (after, words)
        assert not any(tmp_path.rglob(".*.part-*"))


def group_cpu(group: int) -> float:
    """Processor time, s, that the processes of a group have taken so far."""
    ticks = 0
    for place in Path("/proc").glob("[0-9]*/stat"):
        with suppress(OSError):
            fields = place.read_text().rpartition(")")[2].split()
            ticks += int(fields[11]) + int(fields[12]) if int(fields[2]) == group else 0
    return ticks / os.sysconf("SC_CLK_TCK")

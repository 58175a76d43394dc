"""What README.md shows is what happens."""

from __future__ import annotations

import subprocess
import sys
import textwrap
from pathlib import Path

ROOT = Path(__file__).parents[1]


def shown(start: str) -> list[str]:
    """The indented blocks of README.md that begin with a line."""
    blocks = (ROOT / "README.md").read_text(encoding="utf-8").split("\n\n")
    return [textwrap.dedent(block) for block in blocks if block.startswith("    " + start)]


def test_the_program_prints_what_is_said(tmp_path: Path) -> None:
    (program,) = shown("from labrum")
    (printed,) = shown("peak ")
    assert len(program.splitlines()) == 10
    done = subprocess.run([sys.executable, "-c", program], cwd=tmp_path, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == printed.strip()


def test_the_tests_run_as_the_readme_says() -> None:
    """CI's script runs the very command."""
    (command,) = (line for line in shown("python3 -m venv") if "pytest" in line)
    assert command.strip().rpartition("&& ")[2] in (ROOT / ".ci" / "run").read_text().splitlines()

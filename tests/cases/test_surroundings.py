"""The demo on machines unlike the one it was written on: it finds the same numbers, draws, and leaves no complaint.

The oldest and the newest libraries are looked at by ``.ci/run``.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

BEGIN = "from labrum.cases.entry import begin; begin()"
COMMAS = f"import locale; locale.setlocale(locale.LC_ALL, ''); assert f'{{1.5:n}}' == '1,5'; {BEGIN}"
"""Our command within a program that has put decimal commas in force, as one with windows of its own does."""
PLAIN = {name: value for name, value in os.environ.items() if not name.startswith(("LC_", "LANG", "DISPLAY", "MPL"))}


def solved(folder: Path, code: str = BEGIN, **environment: str) -> dict[str, float]:
    """What the demo comes to, and that its figures are drawn."""
    call = [sys.executable, "-W", "error::UserWarning", "-c", code, "solve", "demo", "--out", "here"]
    done = subprocess.run(call, cwd=folder, env={**PLAIN, **environment}, capture_output=True)
    assert done.returncode == 0, done.stderr.decode(errors="replace")
    assert b"Traceback" not in done.stderr
    assert b"peak pressure" in done.stdout
    assert len([*(folder / "here" / "figures").iterdir()]) >= 4
    rows = (folder / "here" / "history.csv").read_text().splitlines()
    assert len({row.count(",") for row in rows}) == 1
    result = json.loads((folder / "here" / "result.json").read_text())
    return {name: result[name] for name in ("peak_pressure_kpa", "sink_mm", "felt_diameter_mm")}


@pytest.fixture(scope="module")
def usual(tmp_path_factory: pytest.TempPathFactory) -> dict[str, float]:
    return solved(tmp_path_factory.mktemp("usual"))


@pytest.mark.slow
@pytest.mark.parametrize("environment", [
    {"LANG": "C", "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
    {"HOME": "/dev/null", "XDG_CACHE_HOME": "/dev/null/cache"},
    {"TERM": "dumb"},
    {"LABRUM_KERNELS": "numpy", "PATH": "/nowhere"},
], ids=["ASCII", "no home to write to", "no display", "no compiler"])  # fmt: skip
def test_the_demo_is_the_same_anywhere(environment: dict[str, str], usual: dict[str, float], tmp_path: Path) -> None:
    assert solved(tmp_path, **environment) == pytest.approx(usual, rel=1e-6)


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("localedef") is None, reason="no locale can be made here")
def test_decimal_commas_change_nothing(usual: dict[str, float], tmp_path: Path) -> None:
    made = subprocess.run(["localedef", "-i", "de_DE", "-f", "UTF-8", str(tmp_path / "de_DE.UTF-8")])
    if made.returncode != 0:
        pytest.skip("no definition of a locale with decimal commas is here")
    found = solved(tmp_path, COMMAS, LOCPATH=str(tmp_path), LC_ALL="de_DE.UTF-8")
    assert found == pytest.approx(usual, rel=1e-12)

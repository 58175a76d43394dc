"""The built wheel, installed where another distribution has top-level packages called like our folders."""

from __future__ import annotations

import json
import os
import shutil
import site
import subprocess
import sys
import venv
import zipfile
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[1]
NAMESAKES = ("cases", "meshes", "reports", "simulate")
BINARIES = "Scripts" if sys.platform == "win32" else "bin"


def pip(*words: str) -> None:
    """Run this Python's pip; it may reach no index."""
    command = [sys.executable, "-m", "pip", "--disable-pip-version-check", *words]
    done = subprocess.run(command, capture_output=True, text=True, check=False, env={**os.environ, "PIP_NO_INDEX": "1"})
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Our wheel, built from a copy, for a build leaves files beside what it builds."""
    work = tmp_path_factory.mktemp("build")
    unwanted = shutil.ignore_patterns(".*", "tests", "*.egg-info", "build", "dist", "runs", "__pycache__")
    shutil.copytree(ROOT, work / "labrum", ignore=unwanted)
    pip("wheel", "--no-deps", "--no-build-isolation", "--wheel-dir", str(work), str(work / "labrum"))
    (built,) = work.glob("labrum-*.whl")
    return built


def namesake_wheel(folder: Path) -> Path:
    """Somebody else's wheel with our folders' names at its top; whoever imports one of them by mistake is told."""
    path = folder / "namesakes-1.0-py3-none-any.whl"
    files = {f"{name}/__init__.py": f"raise ImportError('this is not ours: {name}')\n" for name in NAMESAKES}
    info = "namesakes-1.0.dist-info"
    files[f"{info}/METADATA"] = "Metadata-Version: 2.1\nName: namesakes\nVersion: 1.0\n"
    files[f"{info}/WHEEL"] = "Wheel-Version: 1.0\nGenerator: a test\nRoot-Is-Purelib: true\nTag: py3-none-any\n"
    files[f"{info}/RECORD"] = "".join(f"{name},,\n" for name in (*files, f"{info}/RECORD"))
    with zipfile.ZipFile(path, "w") as archive:
        for name, text in files.items():
            archive.writestr(name, text)
    return path


def solved(home: Path, folder: Path) -> dict[str, Any]:
    """What the installed command finds for the demo."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    command = [str(home / BINARIES / "labrum"), "solve", "demo", "--json"]
    done = subprocess.run(command, cwd=folder, env=clean, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return dict(json.loads(done.stdout))


def test_namesakes_come_and_go_and_labrum_solves(wheel: Path, tmp_path: Path) -> None:
    home = tmp_path / "venv"
    venv.create(home, with_pip=False)
    its_pip = ("--python", str(home / BINARIES / "python"))
    pip(*its_pip, "install", "--no-deps", str(wheel), str(namesake_wheel(tmp_path)))
    (packages,) = {path.parent for path in home.rglob("namesakes-1.0.dist-info")}
    assert all((packages / name / "__init__.py").is_file() for name in NAMESAKES)
    assert (packages / "labrum" / "cases" / "__init__.py").is_file()
    # What labrum needs comes from this Python's packages; their .pth files are not read, so that our tree stays out.
    (packages / "needed.pth").write_text("\n".join(site.getsitepackages()) + "\n")
    beside = solved(home, tmp_path)
    assert beside["status"] == "converged"
    pip(*its_pip, "uninstall", "--yes", "namesakes")
    assert not any((packages / name / "__init__.py").exists() for name in NAMESAKES)
    alone = solved(home, tmp_path)
    assert alone["peak_pressure_kpa"] == pytest.approx(beside["peak_pressure_kpa"], rel=1e-9)

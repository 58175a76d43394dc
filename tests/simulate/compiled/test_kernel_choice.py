"""The kernels can be chosen, and the answer does not depend on the choice."""

from __future__ import annotations

import os
import subprocess
import sys
from ctypes.util import find_library

import pytest

from labrum.simulate.compiled import CHOICE, described, library
from labrum.simulate.compiled.loading import BUILD, KINDS, extension, load

SOLVE = """
from labrum.cases.library.shelf import demo_text
from labrum.cases.case_file.reading import case_from_table
from simulate import solve
import tomllib
found = solve(case_from_table(tomllib.loads(demo_text("demo"))).problem)
print(repr(found.measures.peak_pressure_kpa), repr(found.measures.sink_mm), found.newton_iterations)
"""


def solved(kernels: str) -> list[float]:
    done = subprocess.run(
        [sys.executable, "-c", SOLVE], env={**os.environ, CHOICE: kernels}, capture_output=True, text=True, check=True
    )
    return [float(word) for word in done.stdout.split()]


def test_numpy_can_be_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(CHOICE, "numpy")
    assert library() is None
    assert "numpy" in described()


def test_kernels_that_there_are_not_are_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(CHOICE, "quantum")
    with pytest.raises(ValueError, match="quantum"):
        library()


def test_a_library_of_other_sources_is_left_alone(monkeypatch: pytest.MonkeyPatch, caplog) -> None:
    """As an extension is that was built before the table of functions changed."""
    other = find_library("m")
    if other is None:
        pytest.skip("no library to try")
    monkeypatch.setenv(BUILD, other)
    assert load.__wrapped__("portable") is None
    assert "install again" in caplog.text


@pytest.mark.skipif(extension() is None, reason="no compiled kernels were built")
def test_a_solve_gives_the_same_numbers_on_every_path() -> None:
    """The whole main job, to 1e-9: rounding differs, nothing else."""
    plain = solved("numpy")
    for kind in KINDS:
        if load(kind) is not None:
            assert solved(kind) == pytest.approx(plain, rel=1e-9)

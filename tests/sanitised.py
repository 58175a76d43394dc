"""``python -m tests.sanitised``: the kernels' tests under the compiler's address and undefined-behaviour checks.

The sources are built once more with ``-fsanitize=address,undefined`` into a temporary folder, and pytest runs with that
build in the extension's place; whatever a checker finds ends the run. Needs GCC or Clang on Linux.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import labrum.simulate.compiled
from labrum.simulate.compiled.loading import BUILD

SOURCES = Path(labrum.simulate.compiled.__file__).with_name("sources")
TESTS = [Path(__file__).with_name("simulate") / f"{name}.py" for name in (
    "compiled/test_compiled_elements", "compiled/test_compiled_search", "compiled/test_compiled_waves",
    "equilibrium/test_linear_solvers", "equilibrium/test_linearised_system",
)]  # fmt: skip
CHECKS = ["-fsanitize=address,undefined", "-fno-sanitize-recover=all", "-fno-omit-frame-pointer"]


def build(compiler: str, out: Path) -> None:
    """Compile the kernels with the checks in."""
    sources = sorted(str(path) for path in SOURCES.glob("*.c"))
    words = ["-std=gnu11", "-Wall", "-Wextra", "-Werror", "-O1", "-g", "-fPIC", "-shared", *CHECKS]
    subprocess.run([compiler, *words, *sources, "-lm", "-o", str(out)], check=True)


def runtime(compiler: str, name: str) -> str:
    """Path of a checker's own library, which has to be loaded before anything else."""
    asked = [compiler, f"-print-file-name={name}"]
    return subprocess.run(asked, check=True, capture_output=True, text=True).stdout.strip()


def main() -> int:
    """Build, run the tests, and return pytest's exit code."""
    compiler = os.environ.get("CC", "gcc")
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder, "kernels.so")
        build(compiler, out)
        environment = {
            **os.environ,
            BUILD: str(out),
            "LD_PRELOAD": " ".join(runtime(compiler, name) for name in ("libasan.so", "libubsan.so")),
            "ASAN_OPTIONS": "detect_leaks=0",  # Python keeps much until it ends
            "UBSAN_OPTIONS": "print_stacktrace=1",
        }
        pytest = [sys.executable, "-m", "pytest", "-q", "-n", "0", "-p", "no:cacheprovider"]
        words = [*pytest, *map(str, TESTS), *sys.argv[1:]]
        return subprocess.run(words, env=environment).returncode


if __name__ == "__main__":
    sys.exit(main())

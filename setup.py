"""Builds the compiled kernels as an optional extension; everything else stands in pyproject.toml."""

from __future__ import annotations

from pathlib import Path

from setuptools import Extension, setup
from setuptools.command.build_ext import build_ext

PACKAGE = Path("simulate", "compiled")
SOURCES = PACKAGE / "sources"


class BuildKernels(build_ext):
    """A plain shared library, read by ctypes: it has no Python entry point to export."""

    def build_extensions(self) -> None:
        """Choose the words this compiler understands. Nothing is compiled for the building machine alone."""
        plain = self.compiler.compiler_type == "msvc"
        for extension in self.extensions:
            extension.extra_compile_args = (
                ["/O2"] if plain else ["-std=gnu11", "-O3", "-ffp-contract=fast", "-fvisibility=hidden"]
            )
        super().build_extensions()

    def get_export_symbols(self, ext: Extension) -> list[str]:
        """No ``PyInit_...``."""
        return list(ext.export_symbols or [])


setup(
    ext_modules=[
        Extension(
            ".".join(["labrum", *PACKAGE.parts, "_kernels"]),
            sources=sorted(path.as_posix() for path in SOURCES.glob("*.c")),
            depends=sorted(path.as_posix() for path in SOURCES.glob("*.h")),
            optional=True,
        )
    ],
    cmdclass={"build_ext": BuildKernels},
)

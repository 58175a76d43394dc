"""Compiled kernels: elements, the multifrontal solver, contact search; and how Python reaches them.

The C sources lie in ``sources/``; they are built by setuptools as an optional extension. Without it, or with the
environment variable ``LABRUM_KERNELS=numpy``, everything runs on numpy and scipy.
"""

from labrum.simulate.compiled.loading import CHOICE, Library, described, library

__all__ = ["CHOICE", "Library", "described", "library"]

"""The independent linear solver, as a fixture: tests here share no package to import it from."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest


@pytest.fixture(scope="session")
def linear_reference() -> ModuleType:
    """``linear_reference.py`` beside this file: small-strain axisymmetric elasticity through scikit-fem."""
    name = "published_linear_reference"
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name("linear_reference.py"))
    module = importlib.util.module_from_spec(spec)
    # A dataclass looks its module up by name while it is being made.
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module

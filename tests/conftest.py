"""Fixtures every folder of tests may ask for."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest


@pytest.fixture(scope="session")
def bodies() -> ModuleType:
    """``bodies.py`` beside this file: bodies for the solver's core, built by hand."""
    name = "small_bodies"
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name("bodies.py"))
    module = importlib.util.module_from_spec(spec)
    # A dataclass looks its module up by name while it is being made.
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module

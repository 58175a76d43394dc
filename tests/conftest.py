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
    return _beside("small_bodies", "bodies.py")


@pytest.fixture(scope="session")
def gauge_rims() -> ModuleType:
    """``gauge_rims.py`` beside this file: invented rims to be sampled and gauged."""
    return _beside("invented_gauge_rims", "gauge_rims.py")


def _beside(name: str, file: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(file))
    module = importlib.util.module_from_spec(spec)
    # A dataclass looks its module up by name while it is being made.
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module

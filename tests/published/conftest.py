"""Fixtures for the checks against outside sources, and the table of their deviations at the end of a run."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

ROWS = pytest.StashKey[list[tuple[str, float, float, str]]]()


@pytest.fixture(scope="session")
def compare(pytestconfig: pytest.Config) -> Callable[..., None]:
    """``compare(check, value, reference, percent)``: assert it, and keep it for the table."""
    rows = pytestconfig.stash.setdefault(ROWS, [])

    def check(name: str, value: float, reference: float, percent: float, note: str = "") -> None:
        rows.append((name, float(value), float(reference), note))
        assert value == pytest.approx(reference, rel=percent / 100.0), name

    return check


@pytest.fixture(scope="session")
def rate() -> Callable[..., float]:
    """``rate(errors)``: the order at which errors fall when lengths are halved, from the last two."""

    def order(errors: list[float]) -> float:
        return float(np.log2(abs(errors[-2]) / abs(errors[-1])))

    return order


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    """Print value, reference and deviation of every check that ran."""
    rows = config.stash.get(ROWS, [])
    if not rows or config.option.verbose < 1:
        return
    terminalreporter.section("deviations from outside sources")
    terminalreporter.write_line(f"{'check':<64}{'value':>13}{'reference':>13}{'deviation':>12}  note")
    for name, value, reference, note in rows:
        share = f"{100.0 * (value / reference - 1.0):+.4f} %"
        terminalreporter.write_line(f"{name:<64}{value:>13.6g}{reference:>13.6g}{share:>12}  {note}")

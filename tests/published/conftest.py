"""Fixtures for the checks against outside sources, and the table of their deviations at the end of a run."""

from __future__ import annotations

from collections.abc import Callable, Generator

import numpy as np
import pytest

DEVIATION = "deviation from an outside source"
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


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Give a test's rows to its report, which comes to the terminal's process from whichever ran the test."""
    report = yield
    rows = item.config.stash.get(ROWS, [])
    report.user_properties += [(DEVIATION, row) for row in rows]
    rows.clear()
    return report


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    """Print value, reference and deviation of every check that ran."""
    reports = [one for kind in ("passed", "failed") for one in terminalreporter.getreports(kind)]
    rows = [row for one in reports for name, row in one.user_properties if name == DEVIATION]
    if not rows or config.option.verbose < 1:
        return
    terminalreporter.section("deviations from outside sources")
    terminalreporter.write_line(f"{'check':<64}{'value':>13}{'reference':>13}{'deviation':>12}  note")
    for name, value, reference, note in rows:
        share = f"{100.0 * (value / reference - 1.0):+.4f} %"
        terminalreporter.write_line(f"{name:<64}{value:>13.6g}{reference:>13.6g}{share:>12}  {note}")

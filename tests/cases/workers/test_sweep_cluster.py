"""The same plan on a dask.distributed cluster: a real scheduler here and two workers, one of which is killed."""

from __future__ import annotations

import io
import os
import signal
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from labrum.cases.exits import DONE, USAGE
from labrum.cases.solving.fingerprint import solver_identity
from labrum.cases.solving.screen import Narrator
from labrum.cases.sweeping.expansion import members
from labrum.cases.sweeping.guard import guarded
from labrum.cases.sweeping.job import Means, SweepOrder, run_sweep
from labrum.cases.sweeping.plan import read_plan
from labrum.cases.sweeping.progress import Pace
from labrum.cases.workers.store import Store
from tests.cases.stand_ins import stand_in_solver as stand_in

distributed = pytest.importorskip("distributed")
# Sockets that a killed worker left behind are noticed late, and distributed's own warnings are not ours to mend.
pytestmark = pytest.mark.filterwarnings("ignore")


@pytest.fixture
def cluster(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[Any]:
    """A scheduler and two worker processes, on this machine only."""
    monkeypatch.setenv(stand_in.SOLVES, str(tmp_path / "solves"))
    monkeypatch.setenv(stand_in.DEATHS, str(tmp_path / "died"))
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, local_directory=str(tmp_path)
    ) as running:
        yield running


def test_a_worker_killed_midway_costs_no_case(
    cluster: Any, plan_file: Callable[[str], Path], tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    """One worker is killed from outside after ten cases; another case takes its own worker down once."""
    plan = plan_file("[vary]\nrim.width_mm = { from = 4.5, to = 6.0, count = 60 }\n")
    with distributed.Client(cluster.scheduler_address, set_as_default=False) as client:
        workers = list(client.run(os.getpid).values())
    assert len(workers) == 2
    assert os.getpid() not in workers
    count_on = Pace.finished

    def kill_midway(pace: Pace, converged: bool) -> None:
        count_on(pace, converged)
        if pace.done == 10:
            os.kill(workers[0], signal.SIGKILL)

    monkeypatch.setattr(Pace, "finished", kill_midway)
    means = Means(scheduler=cluster.scheduler_address, solver=stand_in.deadly_once)
    assert run_sweep(SweepOrder(plan, means=means, manner=stand_in.SILENT), Narrator(io.StringIO())) == DONE
    assert "60 converged" in capsys.readouterr().out
    assert (tmp_path / "died").exists()
    wanted = members(read_plan(plan), solver_identity())
    kept = Store.at(tmp_path / "plan.sqlite").find(member.key for member in wanted)
    for member in wanted:
        width = member.settings["rim.width_mm"]
        measures = kept[member.key].measures
        assert isinstance(width, float)
        assert measures is not None
        assert measures["peak_pressure_kpa"] == pytest.approx(stand_in.made_up_peak(width, 0.6, 20.0))


def test_nobody_at_the_address_is_said_in_a_sentence(
    plan_file: Callable[[str], Path], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("labrum.cases.workers.cluster.SCHEDULER_PATIENCE_S", 0.2)
    plan = plan_file("[vary]\nrim.width_mm = [5.0]\n")
    order = SweepOrder(plan, means=Means(scheduler="tcp://127.0.0.1:9"), manner=stand_in.SILENT)
    assert guarded(lambda narrator: run_sweep(order, narrator), stand_in.SILENT) == USAGE
    assert "no scheduler answers at tcp://127.0.0.1:9" in capsys.readouterr().err

"""Loads given by what they bring about: the force is found on grids that can be read."""

from __future__ import annotations

from dataclasses import replace

from labrum.simulate.accuracy.refinement import reading_of
from labrum.simulate.load_path.aiming import Aimed, force_for
from labrum.simulate.load_path.press import Listener
from labrum.simulate.main_job.effort import Effort
from labrum.simulate.main_job.neighbour import Neighbour
from labrum.simulate.main_job.ways import Readable, by_some_way
from labrum.simulate.problem import KPA_PER_MPA, Problem

AIM_FOUND = 1e-3  # relative, of the wanted value


def force_aimed_at(
    problem: Problem, neighbour: Neighbour | None, plan: Effort, progress: Listener
) -> tuple[Aimed, Readable]:
    """The force on grids that can be read, and the last equilibrium looked at; raises `NotConverged`."""
    aim = problem.load.aim
    assert aim is not None
    seen: list[Readable] = []

    def value_at(force: float) -> float:
        near = Neighbour(seen[-1].start) if seen else neighbour
        seen.append(by_some_way(under_force(problem, force), near, plan, progress, lambda first, *_: first))
        standing = seen[-1].standing
        if aim.measure == "sink_mm":
            return standing.equilibrium.state.travel
        return KPA_PER_MPA * reading_of(problem.rim, standing).mean

    return force_for(value_at, aim.value, problem.load.force, AIM_FOUND), seen[-1]


def under_force(problem: Problem, force: float) -> Problem:
    """The same problem with a force given, and nothing aimed at."""
    return replace(problem, load=replace(problem.load, force=force, aim=None))

"""Physics: tissue, contact, equilibrium, accuracy and the quantities read off a solution."""

from labrum.simulate.problem import NotConverged
from labrum.simulate.solving import Effort, Solved, solve, solve_near

__all__ = ["Effort", "NotConverged", "Solved", "solve", "solve_near"]

"""Physics: tissue, contact, equilibrium, accuracy and the quantities read off a solution."""

from labrum.simulate.problem import NotConverged
from labrum.simulate.solving import Plan, Solved, solve, solve_near

__all__ = ["NotConverged", "Plan", "Solved", "solve", "solve_near"]

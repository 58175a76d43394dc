"""Physics: tissue, contact, equilibrium, accuracy and the quantities read off a solution."""

from .problem import NotConverged
from .solving import Plan, Solved, solve, solve_near

__all__ = ["NotConverged", "Plan", "Solved", "solve", "solve_near"]

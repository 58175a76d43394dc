"""Physics: tissue, contact, equilibrium, accuracy and the quantities read off a solution."""

from .problem import NotConverged
from .solving import Plan, solve

__all__ = ["NotConverged", "Plan", "solve"]

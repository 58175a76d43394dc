"""Equilibrium of a model: the linearised system, its sparse solution, the semismooth Newton iteration."""

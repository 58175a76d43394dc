"""The same problem on a softer or a stiffer lip: what says which conclusions rest on the assumed stiffness."""

from __future__ import annotations

from dataclasses import replace

from labrum.simulate.problem import Layer, Problem

EITHER_WAY = (0.5, 2.0)
"""Nobody has measured a playing lip; a factor of two either way is what the assumed stiffness is taken to be worth."""


def softened(problem: Problem, factor: float) -> Problem:
    """Multiply every layer's stiffness and stiffening by ``factor``; the muscle's active stress stays."""
    layers = tuple(_softer(layer, factor) for layer in problem.lip.layers)
    return replace(problem, lip=replace(problem.lip, layers=layers))


def _softer(layer: Layer, factor: float) -> Layer:
    c2, c3 = layer.stiffening
    return replace(layer, shear_modulus=factor * layer.shear_modulus, stiffening=(factor * c2, factor * c3))

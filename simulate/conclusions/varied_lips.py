"""How a lip is made softer or stiffer, and which lips a conclusion is put to the test of.

Nobody has measured a playing lip, so the stiffness assumed is taken to be good to a factor of two either way. The
factor multiplies the shear modulus and the stiffening of every layer, and with them, Poisson's ratio kept, the bulk
modulus; the muscle's active stress is another quantity and stays.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from labrum.simulate.problem import Layer, Problem

EITHER_WAY = (0.5, 2.0)
"""What the assumed stiffness is taken to be worth, as factors on it."""
STIFFNESS_FACTORS = tuple(sorted((1.0, *EITHER_WAY)))
FRICTIONS = (0.05, 0.5)


@dataclass(frozen=True)
class Variation:
    """One varied lip under the case's rim: ``name`` tells what is varied, ``problem`` is ready to be solved.

    ``factor`` is that on the stiffness; the friction stands in the problem.
    """

    name: str
    problem: Problem
    factor: float = 1.0


def varied_lips(problem: Problem, rivals: Iterable[Problem] = ()) -> tuple[Variation, ...]:
    """Vary stiffness and friction: nine problems, or six where the case's own friction is one of the two others.

    The problem itself is among them, with factor 1 and its own friction. What it is to be compared with, ``rivals``,
    adds their frictions where they are others, so that all meet the same lips.
    """
    frictions = sorted({*FRICTIONS, problem.load.friction, *(rival.load.friction for rival in rivals)})
    return tuple(
        Variation(lip_name(factor, friction), _rubbed(softened(problem, factor), friction), factor)
        for factor in STIFFNESS_FACTORS
        for friction in frictions
    )


def lip_name(factor: float, friction: float) -> str:
    """Name of a varied lip."""
    return f"stiffness x{factor:g}, friction {friction:g}"


def own_name(problem: Problem) -> str:
    """Name of the varied lip that is the case's own."""
    return lip_name(1.0, problem.load.friction)


def softened(problem: Problem, factor: float) -> Problem:
    """The same problem on a lip ``factor`` times as stiff."""
    layers = tuple(_stiffened(layer, factor) for layer in problem.lip.layers)
    return replace(problem, lip=replace(problem.lip, layers=layers))


def stiffened_moduli(shear: float, stiffening: Sequence[float], factor: float) -> tuple[float, tuple[float, ...]]:
    """A layer's shear modulus and stiffening (c2, c3) made ``factor`` times as stiff, in whatever unit they are."""
    return factor * shear, tuple(factor * constant for constant in stiffening)


def _stiffened(layer: Layer, factor: float) -> Layer:
    shear, (second, third) = stiffened_moduli(layer.shear_modulus, layer.stiffening, factor)
    return replace(layer, shear_modulus=shear, stiffening=(second, third))


def _rubbed(problem: Problem, friction: float) -> Problem:
    return replace(problem, load=replace(problem.load, friction=friction))

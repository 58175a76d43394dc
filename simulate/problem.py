"""What the solver is asked: a rim, a lip, a load. Plain values in mm, N and MPa, checked by their maker."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from labrum.meshes.rims.rim import Rim
from labrum.simulate.outcome import StepRecord
from labrum.simulate.postures.asked import Posture
from labrum.simulate.tissue.known_laws import STANDARD_LAW
from labrum.simulate.tissue.law import TissueLaw

Backing = Literal["bonded", "sliding"]
Edge = Literal["continuing", "free", "held"]

KPA_PER_MPA = 1e3


@dataclass(frozen=True)
class Layer:
    """One layer of the lip.

    ``thickness`` mm; ``shear_modulus`` and ``stiffening`` (c2, c3) MPa; ``active_stress`` MPa, the hoop
    stress the layer adds at full activation, zero unless ``muscle``. A muscle is a ring out to
    ``muscle_outer_radius`` mm, and ``active_stiffening`` times the activation is the share by which its moduli rise
    (see `labrum.simulate.load_path.muscle`); unless told it fills the layer, and does not stiffen.
    """

    name: str
    thickness: float
    shear_modulus: float
    stiffening: tuple[float, float]
    poisson_ratio: float
    muscle: bool
    active_stress: float = 0.0
    muscle_outer_radius: float = math.inf
    active_stiffening: float = 0.0


@dataclass(frozen=True)
class Lip:
    """A disc of tissue on the teeth: ``layers`` from the rim side to the teeth, lengths in mm.

    ``tooth_gap_radius`` is the radius within which nothing stands behind the lip; ``edge`` what stands around the
    disc (see `labrum.simulate.contact.surroundings`); ``fold_radius`` where its lining goes over to the gum
    (`labrum.simulate.contact.supports`: a judgement, from memory); ``law`` what all its tissue obeys.
    """

    layers: tuple[Layer, ...]
    radius: float
    opening_radius: float
    backing: Backing
    tooth_gap_radius: float
    edge: Edge = "continuing"
    fold_radius: float = 18.0
    law: TissueLaw = STANDARD_LAW

    @property
    def thickness(self) -> float:
        """Thickness over the teeth, mm."""
        return sum(layer.thickness for layer in self.layers)


@dataclass(frozen=True)
class Aim:
    """What the force is to bring about: ``value`` of the measure, in its unit."""

    measure: Literal["mean_pressure_kpa", "sink_mm"]
    value: float


@dataclass(frozen=True)
class Load:
    """What presses: ``force`` N over the full circle, ``mouth_pressure`` MPa; the others are 0 to 1.

    With an ``aim`` the force is found, and ``force`` is where the search begins.
    """

    force: float
    mouth_pressure: float
    friction: float
    muscle_activation: float
    aim: Aim | None = None

    @property
    def known_force(self) -> float | None:
        """The force, N, where it is given; None where it has to be found."""
        return None if self.aim else self.force


@dataclass(frozen=True)
class Accuracy:
    """How far the answer may stand from that of an endlessly fine mesh: percent of the peak pressure."""

    peak_pressure_percent: float = 1.0


@dataclass(frozen=True)
class Problem:
    """One rim to be pressed into one lip.

    ``posture`` asks what it does off the axis, None: nothing; ``vibration`` asks for its small oscillations.
    """

    title: str
    rim: Rim
    lip: Lip
    load: Load
    accuracy: Accuracy
    posture: Posture | None = None
    vibration: bool = False


@dataclass(frozen=True)
class Progress:
    """Where the solver stands: one report an iteration. ``force`` N, ``sink`` mm, ``residual`` relative."""

    stage: str
    force: float
    iteration: int
    residual: float
    sink: float
    unknowns: int


class NotConverged(RuntimeError):
    """No equilibrium was found: how far it got (``force_reached`` N), why it stopped and what to try."""

    def __init__(
        self, force_reached: float, cause: str, advice: str, history: tuple[StepRecord, ...] = ()
    ) -> None:
        self.force_reached = force_reached
        self.cause = cause
        self.advice = advice
        self.history = history
        super().__init__(f"stopped at {force_reached:.2f} N: {cause}; {advice}")

    def __reduce__(self) -> tuple[type[NotConverged], tuple[float, str, str, tuple[StepRecord, ...]]]:
        """Let the exception cross a process border, as it must in a sweep."""
        return type(self), (self.force_reached, self.cause, self.advice, self.history)

"""What the questions put to many cases find, as their figures and tables take it: plain values, nothing drawn yet.

Whoever computes a band, a map or a spread loads this module and not the plotting library.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from labrum.meshes.arrays import Floats


@dataclass(frozen=True)
class BandEnd:
    """One end of a band, mm: best value, and the same if the solutions err one way or the other.

    ``-inf`` lies below every width tried, ``inf`` above.
    """

    best: float
    low: float
    high: float


@dataclass(frozen=True)
class BandCurve:
    """One group of rims alike in all but their width.

    ``widths`` (n,) mm; ``benefit`` (n,), the muscle's ``shortening`` and the pressure on the ``edge`` over that on the
    crown, these (n,) or None, as solved; ``where`` (m,) mm and ``gain`` (m,), what a further 0.1 mm is worth there; the
    two ends; and ``about``, the one width to name in their place where they are too near each other to be told apart.
    """

    label: str
    widths: Floats
    benefit: Floats
    shortening: Floats | None
    edge: Floats | None
    where: Floats
    gain: Floats
    narrow: BandEnd
    wide: BandEnd
    about: BandEnd | None = None


@dataclass(frozen=True)
class MeasureMap:
    """A measure over a grid of two dimensions, and what it rests on.

    ``across`` (m,), ``up`` (n,); ``value`` (n, m), NaN where nothing is known; ``slack`` (n, m), nought or more where
    acceptable, or None where nothing was asked; ``solved`` (k, 3): the solved cases' places and values. ``error`` is by
    how much the map misses solved cases it was not shown, None where it is linear between them.
    """

    across: Floats
    up: Floats
    value: Floats
    slack: Floats | None
    solved: Floats
    error: float | None = None


@dataclass(frozen=True)
class TradeOff:
    """Rims by two or three measures.

    ``values`` (n, k); ``best`` the rows that none beats, in the order they are numbered; ``names`` (k,) for the axes;
    ``from_nought`` (k,) which of them have a nought that means none, so that their axes start there.
    """

    values: Floats
    best: Sequence[int]
    names: Sequence[str]
    from_nought: Sequence[bool] = ()


@dataclass(frozen=True)
class Spread:
    """One cause of spread: its ``name``, the measure's ``values`` (n,), and each parameter's shares of the variance.

    ``by_slopes`` and ``by_sobol`` (d,) belong to ``parameters``.
    """

    name: str
    values: Floats
    parameters: Sequence[str]
    by_slopes: Floats
    by_sobol: Floats

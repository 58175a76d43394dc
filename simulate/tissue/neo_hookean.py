"""The generalised neo-Hookean law with two stiffening terms, which the lips of the library have.

    U = mu/2 x + c2 x^2 + c3 x^3,   x = I1b - 3

Source: Yeoh 1993, "Some forms of the strain energy function for rubber", Rubber Chem. Technol. 66:754 (from memory);
mu, c2 and c3 are ``shear``, ``second`` and ``third`` of the tissue; without the last two it is the neo-Hookean law.
"""

from __future__ import annotations

from dataclasses import dataclass

from labrum.meshes.arrays import Floats
from labrum.simulate.tissue.law import FirstInvariantLaw, Tissue


@dataclass(frozen=True)
class StiffeningNeoHookean(FirstInvariantLaw):
    """See the module; it has no constants beside the tissue's."""

    name: str = "stiffening neo-Hookean"
    compiled: int | None = 0

    def isochoric_energy(self, x: Floats, tissue: Tissue) -> Floats:
        """U (e, g), MPa, at x (e, g)."""
        return 0.5 * tissue.shear * x + tissue.second * x**2 + tissue.third * x**3

    def isochoric_slopes(self, x: Floats, tissue: Tissue) -> tuple[Floats, Floats]:
        """First and second derivative of U with respect to x, each (e, g), MPa."""
        first = 0.5 * tissue.shear + 2.0 * tissue.second * x + 3.0 * tissue.third * x**2
        return first, 2.0 * tissue.second + 6.0 * tissue.third * x

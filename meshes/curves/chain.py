"""What distances and crossings ask of a chain of arcs and lines; `labrum.meshes.curves.curve.Curve` answers it."""

from __future__ import annotations

from typing import Protocol

from labrum.meshes.arrays import Bools, Floats


class Chain(Protocol):
    """``n`` arcs and lines, each beginning where the one before it ends; shapes and units as in `Curve`."""

    @property
    def start(self) -> Floats:
        """(n, 2) beginnings of the pieces, mm."""

    @property
    def end(self) -> Floats:
        """(n, 2) their ends, mm."""

    @property
    def bulge(self) -> Floats:
        """(n,) tangent of a quarter of each angle."""

    @property
    def chord(self) -> Floats:
        """(n,) mm."""

    @property
    def is_arc(self) -> Bools:
        """(n,) true where the piece is an arc."""

    @property
    def sweep(self) -> Floats:
        """(n,) signed angle, radians."""

    @property
    def radius(self) -> Floats:
        """(n,) mm."""

    @property
    def centre(self) -> Floats:
        """(n, 2) mm."""

    @property
    def apex(self) -> Floats:
        """(n, 2) middles, mm."""

    @property
    def heading(self) -> Floats:
        """(n,) direction at the start, radians."""

    @property
    def piece_length(self) -> Floats:
        """(n,) mm."""

    @property
    def offset(self) -> Floats:
        """(n + 1,) arc length at each beginning, mm."""

    @property
    def turns(self) -> Floats:
        """(n - 1,) jumps of the tangent, radians."""

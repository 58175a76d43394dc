"""For what paper a figure is drawn: its width, its letters and its dots; laid out anew for them, not merely shrunk.

Every length inside a figure is set in points for letters of the house's size. A figure for other letters is laid out on
a sheet as much wider or narrower as the letters are smaller or larger, and scaled when it is written. Loads no plotting
library: a command knows its sizes before it has something to draw.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from types import MappingProxyType

MM_PER_INCH = 25.4
HOUSE_LETTERS_PT = 8.5
SCREEN_DPI = 200.0


@dataclass(frozen=True)
class PrintSize:
    """A width in mm, the size of an axis's letters in points, and dots an inch of a PNG; None leaves the usual.

    Without a width and letters figures are those of the house style, 120 mm or 178 mm wide.
    """

    width_mm: float | None = None
    letters_pt: float | None = None
    dots_per_inch: float | None = None

    @property
    def scale(self) -> float:
        """How much larger a figure is written than it is laid out."""
        return (self.letters_pt or HOUSE_LETTERS_PT) / HOUSE_LETTERS_PT

    @property
    def sheet_in(self) -> float | None:
        """Width of the sheet it is laid out on, inches."""
        return None if self.width_mm is None else self.width_mm / MM_PER_INCH / self.scale


AS_USUAL = PrintSize()
PRINT_SIZES: Mapping[str, PrintSize] = MappingProxyType(
    {
        "one-column": PrintSize(85.0, 7.0, 600.0),
        "two-columns": PrintSize(178.0, 8.0, 600.0),
        "slide": PrintSize(254.0, 18.0, 200.0),
    }
)
"""A journal's column and page (common practice, no source), and a slide ten inches wide."""

_sheet_in: ContextVar[float | None] = ContextVar("sheet_in", default=None)


@contextmanager
def laid_out(size: PrintSize) -> Iterator[None]:
    """Lay out the figures drawn inside for a size of print."""
    token = _sheet_in.set(size.sheet_in)
    try:
        yield
    finally:
        _sheet_in.reset(token)


def sheet_width(usual_in: float) -> float:
    """Width, inches, of the sheet that figures are laid out on now."""
    return _sheet_in.get() or usual_in

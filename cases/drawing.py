"""How a command's figures are to be drawn: for what print, and up to what pressure. Loads no plotting library."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from labrum.cases.exits import CannotDo

if TYPE_CHECKING:
    from labrum.reports.house_style.paper import PrintSize


@dataclass(frozen=True)
class Drawn:
    """What the command line asked of figures: a print by name, letters in points, dots an inch, the scale's end."""

    figure_for: str = ""
    font_size: float | None = None
    dpi: float | None = None
    pressure_to_kpa: float | None = None

    def size(self) -> PrintSize:
        """Return the size of print.

        Raises
        ------
        CannotDo
            For a print that has no name here.
        """
        from labrum.reports.house_style.paper import PRINT_SIZES, PrintSize

        if self.figure_for and self.figure_for not in PRINT_SIZES:
            raise CannotDo(f"--figure-for {self.figure_for}: one of {', '.join(PRINT_SIZES)}")
        usual = PRINT_SIZES.get(self.figure_for, PrintSize())
        return PrintSize(usual.width_mm, self.font_size or usual.letters_pt, self.dpi or usual.dots_per_inch)


AS_DRAWN = Drawn()
"""As the house draws."""

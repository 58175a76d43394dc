"""The set of figures a run writes beside its result, and the catalogue of all that one outcome can show."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from types import MappingProxyType

from matplotlib.figure import Figure

from labrum.reports.figures.fields import TISSUE_QUANTITIES, field_figure, field_table
from labrum.reports.figures.history import history_figure, history_table, residual_figure, residual_table
from labrum.reports.figures.mode import mode_figure, mode_table, vibrates
from labrum.reports.figures.mouth import mouth_figure, mouth_table
from labrum.reports.figures.off_axis import (
    WaveView,
    sides_figure,
    sides_table,
    wave_views,
    waved_ring_figure,
    waved_ring_table,
)
from labrum.reports.figures.pressure import ALONG_RIM, LipBand, pressure_figure, pressure_table
from labrum.reports.figures.ring_map import ring_figure, ring_table
from labrum.reports.figures.section import section_figure, section_table
from labrum.reports.house_style.figure_data import Table, labelled
from labrum.reports.house_style.paper import AS_USUAL, PrintSize, laid_out
from labrum.reports.house_style.saving import save
from labrum.simulate.outcome import Outcome

WaveDrawing = Callable[..., Figure]
WaveNumbers = Callable[[WaveView], Table]


@dataclass(frozen=True)
class Plot:
    """A figure and its numbers: ``draw`` takes an outcome, a title and a note; ``numbers`` an outcome.

    ``applies`` tells whether an outcome has what is drawn; ``of_pressure`` whether ``draw`` also takes
    ``pressure_to_kpa``, where the scale of contact pressure ends.
    """

    draw: Callable[..., Figure]
    numbers: Callable[[Outcome], Table]
    applies: Callable[[Outcome], bool] = lambda outcome: True
    of_pressure: bool = False

    def drawn(self, outcome: Outcome, title: str, note: str, pressure_to_kpa: float | None = None) -> Figure:
        """Draw it, on a fixed scale of pressure where it has one and that is asked for."""
        fixed = {"pressure_to_kpa": pressure_to_kpa} if self.of_pressure and pressure_to_kpa else {}
        return self.draw(outcome, title, note, **fixed)


def _field_plots() -> dict[str, Plot]:
    def drawer(name: str) -> Callable[[Outcome, str, str], Figure]:
        return lambda outcome, title, note: field_figure(outcome, TISSUE_QUANTITIES[name], title, note)

    tables = {name: partial(field_table, quantity=quantity) for name, quantity in TISSUE_QUANTITIES.items()}
    return {name: Plot(drawer(name), table) for name, table in tables.items()}


PLOTS: Mapping[str, Plot] = MappingProxyType(
    {
        "pressure": Plot(pressure_figure, pressure_table, of_pressure=True),
        "pressure_along_rim": Plot(
            partial(pressure_figure, along=ALONG_RIM), partial(pressure_table, along=ALONG_RIM), of_pressure=True
        ),
        "section": Plot(section_figure, section_table, of_pressure=True),
        "mouth": Plot(mouth_figure, mouth_table, of_pressure=True),
        "ring_map": Plot(ring_figure, ring_table, of_pressure=True),
        "history": Plot(history_figure, history_table),
        "residuals": Plot(residual_figure, residual_table),
        "mode": Plot(mode_figure, mode_table, vibrates),
        **_field_plots(),
    }
)
"""Every figure of one outcome, by the name its files get."""

RUN_SET = ("pressure", "section", "mode")


def plots_of(outcome: Outcome) -> dict[str, Plot]:
    """Every figure that this outcome can show: all of `PLOTS`, and what was asked off the axis.

    The latter are a ring and the pressure on its sides, ``tilted_ring`` and ``tilted_sides`` for one.
    """
    return {**PLOTS, **_off_axis_plots(outcome)}


def _off_axis_plots(outcome: Outcome) -> dict[str, Plot]:
    def drawn(word: str, draw: WaveDrawing, numbers: WaveNumbers) -> Plot:
        def figure(outcome: Outcome, title: str, note: str, **fixed: float) -> Figure:
            return draw(wave_views(outcome)[word], title, note, **fixed)

        return Plot(figure, lambda outcome: numbers(wave_views(outcome)[word]), of_pressure=True)

    kinds: dict[str, tuple[WaveDrawing, WaveNumbers]] = {
        "ring": (waved_ring_figure, waved_ring_table),
        "sides": (sides_figure, sides_table),
    }
    return {
        f"{word}_{kind}": drawn(word, *functions) for word in wave_views(outcome) for kind, functions in kinds.items()
    }


def write_figures(
    outcome: Outcome,
    title: str,
    folder: Path,
    note: str = "",
    names: Iterable[str] | None = None,
    formats: Iterable[str] = ("svg", "png"),
    pressure_to_kpa: float | None = None,
    size: PrintSize = AS_USUAL,
) -> list[Path]:
    """Write figures of one outcome, each with its numbers as CSV beside it.

    Parameters
    ----------
    outcome, title
        A converged press and its title.
    folder
        Where to write; made if missing.
    note
        A caution to stand below each figure (what the stiffness rests on, for one).
    names
        Keys of :func:`plots_of`; by default those that every run writes, and all off the axis. What an outcome does not
        have is left out.
    formats
        Some of ``svg``, ``pdf``, ``png``.
    pressure_to_kpa
        Where every scale of contact pressure ends; by default each figure's own.
    size
        For what print they are laid out.

    Returns
    -------
    list of Path
        Every file written.

    Raises
    ------
    ValueError
        An unknown name or format; nothing is written then.
    """
    plots, endings = plots_of(outcome), list(formats)
    chosen = [*RUN_SET, *_off_axis_plots(outcome)] if names is None else list(names)
    if unknown := [name for name in chosen if name not in plots]:
        raise ValueError(f"figures: got {', '.join(unknown)}, allowed {', '.join(plots)}")
    written: list[Path] = []
    for name in chosen:
        plot = plots[name]
        if not plot.applies(outcome):
            continue
        with laid_out(size):
            figure = plot.drawn(outcome, title, note, pressure_to_kpa)
        written += save(figure, plot.numbers(outcome), folder, name, endings, size)
    return written


def write_lip_bands(
    outcome: Outcome,
    bands: Iterable[tuple[str, Sequence[Outcome]]],
    title: str,
    folder: Path,
    note: str = "",
    formats: Iterable[str] = ("svg", "png"),
    pressure_to_kpa: float | None = None,
    size: PrintSize = AS_USUAL,
) -> list[Path]:
    """Write the pressure with bands of how far other lips move it; their words and outcomes, at most two.

    The rest is as in :func:`write_figures`. The numbers beside it are each lip's own profile.
    """
    drawn = [LipBand(words, outcomes) for words, outcomes in bands if len(outcomes) > 1]
    with laid_out(size):
        figure = pressure_figure(outcome, title, note, pressure_to_kpa=pressure_to_kpa, bands=drawn)
    lips = [(f"{b.words}, {k}", pressure_table(o)) for b in drawn for k, o in enumerate(b.outcomes, 1)]
    data = labelled("lip", [("the case's own", pressure_table(outcome)), *lips])
    return save(figure, data, folder, "pressure_on_other_lips", formats, size)

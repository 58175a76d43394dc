"""Write a figure as SVG, PDF and PNG with its numbers as CSV beside it; same figure, same bytes."""

from __future__ import annotations

import io
import re
from collections.abc import Iterable
from html import escape
from pathlib import Path
from typing import Any

from matplotlib.figure import Figure

from labrum.reports.house_style.figure_data import Table, write_csv
from labrum.reports.house_style.paper import AS_USUAL, SCREEN_DPI, PrintSize
from labrum.reports.house_style.scaling import scaled_pdf, scaled_svg
from labrum.reports.house_style.style import house_style
from labrum.reports.house_style.words import plain

FORMATS = ("svg", "pdf", "png")

_UNDATED: dict[str, dict[str, Any]] = {
    "svg": {"Date": None, "Creator": "Labrum"},
    "pdf": {"CreationDate": None, "Creator": "Labrum", "Producer": None},
    "png": {"Software": "Labrum"},
}

_NAMED = re.compile(r'(\bid="|href="#|url\(#)')


def save(
    figure: Figure, data: Table, folder: Path, name: str, formats: Iterable[str] = FORMATS, size: PrintSize = AS_USUAL
) -> list[Path]:
    """Write ``folder/name.svg``, ``.pdf``, ``.png`` (those asked for) and ``name.csv``.

    Parameters
    ----------
    figure, data
        A figure of this package and the numbers it shows.
    folder
        Where to write; made if missing. Files of the same name are replaced.
    name
        File name without its ending.
    formats
        Some of ``svg``, ``pdf``, ``png``.
    size
        For what print the figure was laid out.

    Returns
    -------
    list of Path
        What was written, the CSV last.

    Raises
    ------
    ValueError
        A format not in the list above.
    """
    asked = list(formats)
    if unknown := sorted(set(asked) - set(FORMATS)):
        raise ValueError(f"formats: got {', '.join(unknown)}, allowed {', '.join(FORMATS)}")
    folder.mkdir(parents=True, exist_ok=True)
    written = [folder / f"{name}.{ending}" for ending in asked]
    for path in written:
        path.write_bytes(as_bytes(figure, path.suffix[1:], size))
    return [*written, write_csv(data, folder / f"{name}.csv")]


@house_style()
def as_bytes(figure: Figure, ending: str, size: PrintSize = AS_USUAL) -> bytes:
    """Return the figure as an SVG, PDF or PNG file's content, undated, at the size it was laid out for."""
    out, more = io.BytesIO(), dict[str, Any]()
    _settle(figure)
    if ending == "pdf" and size.scale != 1.0:
        return scaled_pdf(figure, size.scale, _UNDATED["pdf"])
    if ending == "png" and size != AS_USUAL:
        dots = size.dots_per_inch or SCREEN_DPI
        more = {"dpi": dots * size.scale, "pil_kwargs": {"dpi": (dots, dots)}}
    figure.savefig(out, format=ending, metadata=_UNDATED[ending], **more)
    if ending == "svg" and size.scale != 1.0:
        return scaled_svg(out.getvalue().decode("utf-8"), size.scale).encode("utf-8")
    return out.getvalue()


def _settle(figure: Figure) -> None:
    """Lay the figure out once and round where its axes stand.

    The solver of constrained layout leaves their last digits to chance, and names in an SVG are hashes of them.
    """
    if figure.get_layout_engine() is None:
        return
    figure.draw_without_rendering()
    figure.set_layout_engine("none")
    for axes in figure.axes:
        axes.set_position(tuple(round(value, 8) for value in axes.get_position(original=True).bounds))


def inline_svg(figure: Figure, key: str, description: str) -> str:
    """Return the figure as an ``<svg>`` element to stand in a page.

    Parameters
    ----------
    figure
        The figure.
    key
        Letters and digits that no other figure of the page uses: ids are prefixed with it, so that they stay
        unique.
    description
        What the picture shows, read aloud in its stead; escaped here.
    """
    text = as_bytes(figure, "svg").decode("utf-8")
    element = re.sub(r"<metadata>.*?</metadata>\s*", "", text[text.index("<svg") :], flags=re.DOTALL)
    element = re.sub(r"<[^>]+>", lambda tag: _NAMED.sub(rf"\g<1>{key}-", tag[0]), element)
    spoken = escape(plain(description), quote=True)
    return element.replace("<svg ", f'<svg role="img" aria-label="{spoken}" ', 1)

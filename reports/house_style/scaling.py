"""A figure written larger or smaller than it is laid out, with all that is on it."""

from __future__ import annotations

import io
import re
from typing import Any

from matplotlib.backends.backend_mixed import MixedModeRenderer
from matplotlib.backends.backend_pdf import Op, PdfFile, RendererPdf
from matplotlib.figure import Figure


def scaled_svg(text: str, scale: float) -> str:
    """An SVG file's text with its own width and height times ``scale``; what is drawn stays."""
    head, rest = text[: (end := text.index(">", text.index("<svg")))], text[end:]

    def larger(found: re.Match[str]) -> str:
        return f'{found[1]}="{float(found[2]) * scale:.6g}pt"'

    return re.sub(r'\b(width|height)="([\d.]+)pt"', larger, head) + rest


def scaled_pdf(figure: Figure, scale: float, metadata: dict[str, Any]) -> bytes:
    """A figure as a PDF file's content, its page and all on it times ``scale``."""
    dpi = figure.dpi
    figure.dpi = 72
    out = io.BytesIO()
    file = PdfFile(out, metadata=metadata)
    try:
        wide, tall = figure.get_size_inches()
        file.newPage(wide * scale, tall * scale)
        file.output(scale, 0, 0, scale, 0, 0, Op.concat_matrix)
        renderer: Any = MixedModeRenderer(figure, wide, tall, dpi, RendererPdf(file, dpi, tall, wide))
        figure.draw(renderer)
        renderer.finalize()
        file.finalize()
    finally:
        file.close()
        figure.dpi = dpi
    return out.getvalue()

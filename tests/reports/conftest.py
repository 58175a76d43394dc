"""The invented outcome, and what a figure's text looks like once drawn."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from labrum.simulate.outcome import Outcome
from tests.reports import sample_outcome as sample


@pytest.fixture(scope="session")
def outcome() -> Outcome:
    """An invented outcome of the demo rim."""
    return sample.invent(sample.demo_rim())


@pytest.fixture(scope="session")
def six() -> list[Outcome]:
    """Six invented outcomes, unlike each other."""
    made = sample.Invented
    return [
        sample.invent(sample.demo_rim(bite_radius_mm=1.2), made(edginess=3.0, sink=2.8)),
        sample.invent(sample.demo_rim()),
        sample.invent(sample.demo_rim(bite_radius_mm=0.2), made(edginess=20.0, sink=3.1)),
        sample.invent(sample.demo_rim(width_mm=6.4, inner_diameter_mm=17.0), made(sink=2.2)),
        sample.invent(sample.demo_rim(width_mm=4.6), made(sink=4.2, middle=-1.0)),
        sample.invent(sample.demo_rim(inner_crown_radius_mm=30.0), made(outer_share=0.7)),
    ]


@dataclass(frozen=True)
class Words:
    """A text as drawn, and the box it fills, in dots."""

    text: str
    box: Bbox


@pytest.fixture
def words_of(monkeypatch: pytest.MonkeyPatch) -> Callable[[Figure], list[Words]]:
    """Draw a figure and tell every text that appears in it."""

    def read(figure: Figure) -> list[Words]:
        seen: list[Words] = []
        draw = Text.draw

        def note(text: Text, renderer: object) -> None:
            draw(text, renderer)
            if text.get_visible() and text.get_text().strip():
                seen.append(Words(text.get_text(), Text.get_window_extent(text, renderer)))

        with monkeypatch.context() as patch:
            patch.setattr(Text, "draw", note)
            FigureCanvasAgg(figure).draw()
        return seen

    return read

"""Any quantity in the tissue, drawn on the deformed section with its curved edges."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from matplotlib.ticker import MaxNLocator
from matplotlib.tri import Triangulation

from labrum.meshes.arrays import Floats, Ints
from labrum.meshes.grids.quadratic import EDGES, shape_functions
from labrum.reports.figures.section import HEIGHT_AXIS, RADIUS_AXIS, Window, draw_metal
from labrum.reports.house_style.figure_data import Table, table
from labrum.reports.house_style.shapes import compound, edge_curves, outlines
from labrum.reports.house_style.style import DIVERGING, INK, QUIET, SEQUENTIAL, finish, house_style, label_axes, sheet
from labrum.simulate.outcome import Outcome, Section

FIELD_LEVELS = 20
FINE_BELOW = 4000
"""With more quadrilaterals than this, halves of each are small enough to draw with straight edges."""

SAME_PLACE_MM = 1e-7


@dataclass(frozen=True)
class TissueQuantity:
    """Something to draw: its name in files, words, symbol, unit, and how to read it at the nodes, (n,).

    ``signed`` quantities get a map centred at nought; the others a map from pale to dark.
    """

    name: str
    words: str
    symbol: str
    unit: str
    signed: bool
    values: Callable[[Section], Floats]

    @property
    def label(self) -> str:
        """Words, symbol and unit for an axis."""
        return f"{self.words}, {self.symbol}" + (f" ({self.unit})" if self.unit else "")

    @property
    def column(self) -> str:
        """Name for a table's column, its unit with it."""
        return self.name + (f"_{self.unit.lower()}" if self.unit else "")


def tissue_pressure(section: Section) -> Floats:
    """Mean pressure: minus a third of the Cauchy stress's trace, kPa."""
    return np.asarray(-section.cauchy_kpa[:, :3].sum(axis=1) / 3.0)


def largest_shear(section: Section) -> Floats:
    """Half the difference of the largest and smallest principal Cauchy stress, hoop included, kPa."""
    rr, zz, hoop, rz = section.cauchy_kpa.T
    middle, radius = (rr + zz) / 2.0, np.hypot((rr - zz) / 2.0, rz)
    return np.asarray(np.maximum(middle + radius, hoop) - np.minimum(middle - radius, hoop)) / 2.0


TISSUE_PRESSURE = TissueQuantity("tissue_pressure", "pressure in the tissue", "pₜ", "kPa", True, tissue_pressure)
STRETCH = TissueQuantity("stretch", "largest principal stretch", "λ₁", "", False, lambda s: s.stretch)
SHEAR = TissueQuantity("shear", "shear stress", "τrz", "kPa", True, lambda s: s.cauchy_kpa[:, 3])
LARGEST_SHEAR = TissueQuantity("largest_shear", "largest shear stress", "τₘₐₓ", "kPa", False, largest_shear)
RADIAL = TissueQuantity("radial_stress", "radial stress", "σr", "kPa", True, lambda s: s.cauchy_kpa[:, 0])
AXIAL = TissueQuantity("axial_stress", "axial stress", "σz", "kPa", True, lambda s: s.cauchy_kpa[:, 1])
HOOP = TissueQuantity("hoop_stress", "hoop stress", "σθ", "kPa", True, lambda s: s.cauchy_kpa[:, 2])
TISSUE_QUANTITIES = {q.name: q for q in (TISSUE_PRESSURE, STRETCH, SHEAR, LARGEST_SHEAR, RADIAL, AXIAL, HOOP)}


@house_style()
def field_figure(
    outcome: Outcome, quantity: TissueQuantity, title: str = "", note: str = "", show_mesh: bool = False
) -> Figure:
    """Draw a quantity on the deformed section.

    Parameters
    ----------
    outcome
        A converged press.
    quantity
        One of :data:`TISSUE_QUANTITIES`, or another of the same kind.
    title, note
        People's words above and below the drawing; either may be empty.
    show_mesh
        Rule the elements' edges too.
    """
    window = Window.around([outcome])
    figure = sheet(window.height_in + 1.3, title, note)
    axes = figure.add_subplot()
    window.apply(axes)
    shades = _paint(axes, outcome.section, quantity)
    _rule_layers(axes, outcome.section)
    if show_mesh:
        axes.add_collection(LineCollection(list(mesh_lines(outcome.section)), colors=INK, linewidths=0.2, zorder=1.6))
    draw_metal(axes, outcome.rim, outcome.measures.sink_mm, window.top)
    label_axes(axes, RADIUS_AXIS, HEIGHT_AXIS, grid=False)
    bar = figure.colorbar(shades, ax=axes, location="bottom", aspect=32, pad=0.03, shrink=0.95)
    bar.set_label(quantity.label)
    return finish(figure, title, note)


def _paint(axes: Axes, section: Section, quantity: TissueQuantity) -> Any:
    places, triangles, values = subdivided(section, quantity.values(section))
    levels = contour_levels(values)
    most = float(np.abs(levels).max())
    scale = Normalize(-most, most) if quantity.signed else Normalize(levels[0], levels[-1])
    colours = DIVERGING if quantity.signed else SEQUENTIAL
    mesh = Triangulation(places[:, 0], places[:, 1], triangles)
    shades = axes.tricontourf(mesh, values, levels=levels, cmap=colours, norm=scale, zorder=1)
    # Dashes below nought and solid lines above it tell the sign where colour cannot.
    ruled = levels[1:-1:2]
    dashes = ["dashed" if level < 0 else "solid" for level in ruled]
    axes.tricontour(mesh, values, levels=ruled, colors=[QUIET], linewidths=0.4, linestyles=dashes, zorder=1.1)
    return shades


def contour_levels(values: Floats) -> Floats:
    """Round, evenly spaced levels that hold all values; nought is one of them if it lies among them."""
    low, high = float(values.min()), float(values.max())
    if high - low < 1e-9 * max(abs(high), 1.0):
        low, high = low - 0.5, high + 0.5
    return np.asarray(MaxNLocator(FIELD_LEVELS, steps=[1, 2, 2.5, 5, 10], min_n_ticks=5).tick_values(low, high))


def subdivided(section: Section, values: Floats, parts: int | None = None) -> tuple[Floats, Ints, Floats]:
    """Cut every nine-node quadrilateral into small triangles that follow its curved edges.

    Parameters
    ----------
    section
        The mesh.
    values
        (n,) at the nodes.
    parts
        Pieces along each side; by default 4, or 2 (the nodes themselves) on large meshes.

    Returns
    -------
    places (m, 2), triangles (t, 3), values (m,)
        Deformed places and values, both interpolated biquadratically; values kept within the nodes' range.
    """
    parts = parts or (4 if len(section.quads) < FINE_BELOW else 2)
    shape = _biquadratic(parts)
    local = np.column_stack([section.deformed, values])[section.quads]
    fine = np.einsum("pk,ekd->epd", shape, local)
    fine[..., 2] = fine[..., 2].clip(values.min(), values.max())
    i, j = np.meshgrid(np.arange(parts), np.arange(parts), indexing="ij")
    first = (i * (parts + 1) + j).ravel()
    cut = np.vstack([first + np.array([[0], [parts + 1], [parts + 2]]), first + np.array([[0], [parts + 2], [1]])])
    one = np.concatenate([cut[:3].T, cut[3:].T])
    triangles = (np.arange(len(fine))[:, None, None] * len(shape) + one).reshape(-1, 3)
    return _merged(fine.reshape(-1, 3), triangles)


def _merged(points: Floats, triangles: Ints) -> tuple[Floats, Ints, Floats]:
    """Join points that neighbours share, so that contours run through."""
    key = np.round(points[:, :2] / SAME_PLACE_MM).astype(np.int64)
    _, first, place = np.unique(key, axis=0, return_index=True, return_inverse=True)
    joined = points[first]
    return joined[:, :2], place.ravel()[triangles], joined[:, 2]


def _biquadratic(parts: int) -> Floats:
    """Shape functions at an even grid of points: ((parts + 1)**2, 9), rows column after column."""
    t = np.linspace(-1.0, 1.0, parts + 1)
    return shape_functions(np.column_stack([np.repeat(t, parts + 1), np.tile(t, parts + 1)]))[0]


def mesh_lines(section: Section, parts: int = 4) -> Floats:
    """Return every element's edges, each drawn once, as curved lines (k, parts + 1, 2) in mm."""
    edges = section.quads[:, EDGES].reshape(-1, 3)
    _, once = np.unique(edges[:, 1], return_index=True)
    return edge_curves(section.deformed[edges[once]], parts)


def _rule_layers(axes: Axes, section: Section) -> None:
    for number in range(len(section.layer_names)):
        outline = compound(outlines(section, section.layer == number))
        axes.add_patch(PathPatch(outline, fill=False, edgecolor=INK, linewidth=0.6, zorder=1.7))


def field_table(outcome: Outcome, quantity: TissueQuantity) -> Table:
    """Return the quantity at the nodes, at rest and deformed places beside it."""
    (rest_r, rest_z), (r, z) = outcome.section.rest.T, outcome.section.deformed.T
    values = quantity.values(outcome.section)
    return table(r_rest_mm=rest_r, z_rest_mm=rest_z, r_mm=r, z_mm=z, **{quantity.column: values})

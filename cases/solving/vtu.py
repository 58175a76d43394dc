"""Fields of a solution for a general viewer: one VTU file with quadratic quadrilaterals."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.simulate.outcome import Mode, Section

FIELDS_NOTE = """\
The half section of the lip at rest, set in space: x is the radius r in mm, y is the axis z in mm (from the
teeth to the cup), and the third coordinate is 0. Warp by "displacement [mm]" to see it pressed.
"stress [kPa]" is the Cauchy stress: XX = rr, YY = zz, ZZ = hoop, XY = rz, YZ = XZ = 0.
"stretch [-]" is the largest principal stretch; "layer" counts from 0 at the rim's side.
"mode [-]", where vibration was asked for, is the mode's displacement, its largest component 1."""


def write_fields(section: Section, path: Path, mode: Mode | None = None) -> None:
    """Write the section, and a mode, to ``path`` as binary VTU (cells are VTK's biquadratic quadrilaterals)."""
    import meshio  # takes longer to load than the rest of the run folder to write

    mesh = meshio.Mesh(
        _in_space(section.rest),
        [("quad9", section.quads)],
        point_data={
            "displacement [mm]": _in_space(section.deformed - section.rest),
            "stress [kPa]": _symmetric(section.cauchy_kpa),
            "stretch [-]": section.stretch,
            **({} if mode is None else {"mode [-]": _in_space(mode.shape)}),
        },
        cell_data={"layer": [section.layer]},
    )
    meshio.write(path, mesh, file_format="vtu", binary=True)


def _in_space(plane: Floats) -> Floats:
    """(n, 2) to (n, 3): viewers warp by 3-vectors only."""
    return np.column_stack([plane, np.zeros(len(plane))])


def _symmetric(cauchy: Floats) -> Floats:
    """(n, 4) rr, zz, hoop, rz to (n, 6) XX, YY, ZZ, XY, YZ, XZ."""
    return np.column_stack([cauchy, np.zeros((len(cauchy), 2))])

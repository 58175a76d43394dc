"""Write a curve as DXF: lines and arcs as they are, units in the header, the same bytes every time."""

from __future__ import annotations

import io
import re
from collections.abc import Iterable
from math import atan2, degrees
from uuid import NAMESPACE_URL, uuid5

from ezdxf.document import Drawing

from labrum.meshes.curves.curve import Curve
from labrum.meshes.machining.lathe_view import Unit, scaled

VERSIONS = ("R12", "R2010")
"""R12 (1992), which everything reads, and R2010, whose header knows units."""

LONGEST_REMARK = 250
_INSUNITS = {"mm": 4, "inch": 1}
_MEASUREMENT = {"mm": 1, "inch": 0}
# A Julian day that stands for no date, and the versions of a drawing told apart by their content alone.
_NO_DATE = "2451544.5"
_STAMPS = (
    (re.compile(r"(\$TD(?:CREATE|UPDATE)\n +40\n)[^\n]*"), rf"\g<1>{_NO_DATE}"),
    (re.compile(r"(\n[0-9.]+[a-z0-9]*) @ \d{4}-\d\d-\d\dT[^\n]*"), r"\g<1>"),
)
_GUID = re.compile(r"(\$(?:FINGERPRINT|VERSION)GUID\n +2\n)[^\n]*")


def dxf_bytes(curve: Curve, unit: Unit, version: str, layer: str, remarks: Iterable[str] = ()) -> bytes:
    """Write a curve as an ASCII DXF file of LINE and ARC entities.

    Parameters
    ----------
    curve
        mm; its first column becomes the drawing's x, the second its y.
    unit
        Of the numbers in the file. R12 has no word for units: there ``$INSUNITS`` is written all the same, as
        many programs do (common practice, no source), and the remarks should say it too.
    version
        One of `VERSIONS`.
    layer
        Name of the entities' layer: letters, digits, ``-`` and ``_``.
    remarks
        Comments (group 999) at the head of the file, each cut to a line.

    Returns
    -------
    bytes
        Undated: the same curve gives the same bytes. Arcs run anticlockwise in DXF, so a piece that turns
        clockwise is written from its end to its start.
    """
    doc = Drawing.new(version)  # ezdxf.new would log that R12 knows no units
    if version != "R12":
        doc.header["$INSUNITS"] = _INSUNITS[unit.name]
        doc.header["$MEASUREMENT"] = _MEASUREMENT[unit.name]
    doc.layers.add(layer)
    written = scaled(curve, unit)
    for k in range(len(written.bulge)):
        _add_piece(doc, written, k, layer)
    out = io.StringIO()
    doc.write(out)
    text = _undated(out.getvalue(), curve)
    if version == "R12":
        text = _with_units(text, unit)
    comments = "".join(f"999\n{' '.join(remark.split())[:LONGEST_REMARK]}\n" for remark in remarks)
    return doc.encode(comments + text)


def _add_piece(doc: Drawing, curve: Curve, k: int, layer: str) -> None:
    space, attributes = doc.modelspace(), {"layer": layer}
    start, end = curve.start[k].tolist(), curve.end[k].tolist()
    if not curve.is_arc[k]:
        space.add_line(start, end, dxfattribs=attributes)
        return
    z, x = curve.centre[k].tolist()
    angles = [degrees(atan2(p[1] - x, p[0] - z)) % 360.0 for p in (start, end)]
    first, last = angles if curve.sweep[k] > 0 else angles[::-1]
    space.add_arc((z, x), float(curve.radius[k]), first, last, dxfattribs=attributes)


def _undated(text: str, curve: Curve) -> str:
    """Take out every time and random name; what tells two drawings apart follows from the curve."""
    for pattern, plain in _STAMPS:
        text = pattern.sub(plain, text)
    own = str(uuid5(NAMESPACE_URL, repr(curve.vertices.tolist()))).upper()
    return _GUID.sub(rf"\g<1>{{{own}}}", text)


def _with_units(text: str, unit: Unit) -> str:
    head, mark, rest = text.partition("  9\n$INSBASE\n")
    return f"{head}  9\n$INSUNITS\n 70\n{_INSUNITS[unit.name]:6d}\n{mark}{rest}"

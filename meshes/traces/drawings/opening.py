"""A DXF file opened, and the curves of its model space, those inside blocks too: counted before they are taken out."""

from __future__ import annotations

import logging
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import ezdxf
from ezdxf import recover

from labrum.meshes.traces.drawings.strokes import refused_entity
from labrum.meshes.traces.raw_trace import TraceError, refuse

# What the library remarks on a file would reach the terminal as the file has it.
logging.getLogger("ezdxf").addHandler(logging.NullHandler())

ALLOWED = "a DXF file, R12 or later"
MOST_BYTES = 12_000_000
MOST_ENTITIES = 20_000
DEEPEST = 12
VERTICES_AN_ENTITY = 10
CURVES = ("LINE", "ARC", "CIRCLE", "LWPOLYLINE", "POLYLINE", "SPLINE", "ELLIPSE")
BINARY = b"AutoCAD Binary DXF\r\n\x1a\x00"


def opened(path: Path) -> tuple[Any, tuple[str, ...]]:
    """Open a drawing; and say what had to be mended on the way.

    Raises
    ------
    TraceError
        If it is no DXF, broken beyond reading, or larger than a rim's drawing is.
    """
    data = path.read_bytes()
    _check_bytes(data)
    try:
        return ezdxf.readfile(path), ()
    except MemoryError:
        raise
    except Exception as error:  # the library meets a broken file with errors of every kind
        return _mended(path, data, error)


def _check_bytes(data: bytes) -> None:
    if len(data) > MOST_BYTES:
        raise refuse(f"{len(data)} bytes", f"at most {MOST_BYTES} bytes in a DXF file", "keep the rim's layer only")
    if data.startswith(BINARY):
        return
    if not re.match(rb"(?:\xef\xbb\xbf)?\s*(?:999[ \t]*\r?\n[^\n]*\n\s*)*0[ \t]*\r?\n[ \t]*SECTION\b", data):
        raise refuse("no DXF file", ALLOWED)
    if not re.search(rb"\bEOF\s*\Z", data[-200:].rstrip(b"\0\x1a")):
        raise refuse("a DXF file cut short: it does not end in EOF", ALLOWED)


def _mended(path: Path, data: bytes, first: Exception) -> tuple[Any, tuple[str, ...]]:
    broken = refuse(f"a broken DXF file ({first})", ALLOWED)
    if data.startswith(BINARY):
        raise broken from None
    try:
        document, auditor = recover.readfile(path)
    except MemoryError:
        raise
    except Exception as error:  # as above
        raise refuse(f"a broken DXF file ({error})", ALLOWED) from None
    count = len(auditor.errors) + len(auditor.fixes)
    return document, (f"a damaged DXF file: {count} faults mended on reading, look whether it is whole",)


def entities_of(document: Any) -> list[Any]:
    """Every entity of the model space, those inside blocks in their places; `_weigh` has counted them before."""
    try:
        space = list(document.modelspace())
        _weigh(space, document)
        return list(_flat(space))
    except (TraceError, MemoryError):
        raise
    except Exception as error:
        raise refuse(f"a broken DXF file ({type(error).__name__}: {error})", ALLOWED) from None


def _weigh(space: list[Any], document: Any) -> None:
    """Count what the model space would hold with every block laid out, and refuse too much of it."""
    weights: dict[str, int] = {}

    def weight(entities: Any, around: tuple[str, ...]) -> int:
        return sum(inserted(entity, around) if entity.dxftype() == "INSERT" else _bulk(entity) for entity in entities)

    def inserted(entity: Any, around: tuple[str, ...]) -> int:
        name = str(entity.dxf.get("name", "")).casefold()
        if name in around or len(around) >= DEEPEST:
            raise refused_entity(entity, "a block that holds itself" if name in around else "blocks within blocks",
                                 f"blocks at most {DEEPEST} deep")
        if name not in weights:
            weights[name] = weight(_cleared(document.blocks.get(name)), (*around, name))
        rows, columns = (max(1, int(entity.dxf.get(key, 1))) for key in ("row_count", "column_count"))
        total = weights[name] * rows * columns
        if total > MOST_ENTITIES:
            raise refused_entity(entity, f"{_about(total)} entities", f"at most {MOST_ENTITIES} in a drawing")
        return total

    if (count := weight(space, ())) > MOST_ENTITIES:
        raise refuse(f"{_about(count)} entities", f"at most {MOST_ENTITIES} in a drawing", "keep the rim's layer only")


def _cleared(block: Any) -> list[Any]:
    """Entities of a block, once all that is no part of a profile is taken off it: laying it out copies what is left."""
    if block is None:
        return []
    for entity in [e for e in block if e.dxftype() not in (*CURVES, "POINT", "INSERT")]:
        block.unlink_entity(entity)
    return list(block)


def _bulk(entity: Any) -> int:
    """How much an entity counts: a polyline may come out of a block as so many lines and arcs."""
    kind = entity.dxftype()
    vertices = entity.vertices if kind == "POLYLINE" else entity if kind == "LWPOLYLINE" else ()
    return 1 + len(vertices) // VERTICES_AN_ENTITY


def _about(count: int) -> str:
    return str(count) if count < 10**9 else "thousands of millions of"


def _flat(entities: Any) -> Iterator[Any]:
    for entity in entities:
        if entity.dxftype() != "INSERT":
            yield entity
        elif entity.mcount > 1:
            for one in entity.multi_insert():
                yield from _flat(one.virtual_entities())
        else:
            yield from _flat(entity.virtual_entities())

"""What ships with the package: lips and loads to start from, each value with its source, and demo cases."""

from __future__ import annotations

import textwrap
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

TAGS = {
    "[V]": "read in a published source, which the library's file names",
    "[M]": "from memory, with low confidence: not to be quoted as measured",
    "[J]": "our own judgement, assumed and not measured",
}
"""What stands before a source, and what it says."""
MUSCLE_KEYS = ("active_stress_kpa", "muscle_outer_radius_mm", "active_stiffening")


@dataclass(frozen=True)
class LibraryLip:
    """A lip of the library: layers as tables of a case file, rim side first, and their sources."""

    name: str
    layers: tuple[dict[str, Any], ...]
    calibration: str
    sources: dict[str, str]


@dataclass(frozen=True)
class LibraryLoad:
    """A load of the library: values as in a case file's ``[load]``, and where they come from."""

    name: str
    meaning: str
    values: dict[str, float]
    sources: dict[str, str]


def lip_names() -> tuple[str, ...]:
    """Names that ``lip.type`` takes."""
    return tuple(_table("lips.toml")["lip"])


def load_names() -> tuple[str, ...]:
    """Names that ``load.preset`` takes."""
    return tuple(_table("loads.toml"))


def demo_names() -> tuple[str, ...]:
    """Names of the cases that ship with the package; ``demo`` first."""
    names = (
        item.name.removesuffix(".toml") for item in _demo_folder().iterdir() if item.name.endswith(".toml")
    )
    return tuple(sorted(names, key=lambda name: (name != "demo", name)))


def demo_text(name: str) -> str:
    """Text of a shipped case; `KeyError` where there is none of that name."""
    if name not in demo_names():
        raise KeyError(name)
    return _demo_folder().joinpath(f"{name}.toml").read_text(encoding="utf-8")


def sheet_names() -> tuple[str, ...]:
    """Names of the player's sheets that ship: ``sheet``, to be filled in, and an invented player's."""
    names = (item.name.removesuffix(".toml") for item in _sheet_folder().iterdir() if item.name.endswith(".toml"))
    return tuple(sorted(names, key=lambda name: (name != "sheet", name)))


def sheet_text(name: str) -> str:
    """Text of a shipped sheet; `KeyError` where there is none of that name."""
    if name not in sheet_names():
        raise KeyError(name)
    return str(_sheet_folder().joinpath(f"{name}.toml").read_text(encoding="utf-8"))


def lip_red(name: str) -> tuple[float, float]:
    """Height of the red of a library lip, upper and lower, mm; `KeyError` where there is none of that name."""
    lip = _table("lips.toml")["lip"][name]
    return lip["red_mm"]["upper"], lip["red_mm"]["lower"]


def demo_place() -> Path:
    """Folder of the shipped cases, from which a shipped trace's path counts."""
    return Path(str(_demo_folder()))


def library_lip(name: str) -> LibraryLip:
    """Return the lip of that name; `KeyError` where there is none.

    Small-strain Young's moduli become shear moduli by mu = E / (2 (1 + nu)); the lip's stiffness factor
    multiplies the tissue's stiffness and stiffening, not the muscle's active stress.
    """
    table = _table("lips.toml")
    lip, tissue = table["lip"][name], table["tissue"]
    layers = tuple(
        _layer(part, thickness, tissue, lip["stiffness_factor"])
        for part, thickness in lip["thickness_mm"].items()
    )
    sources = {key: value for key, value in {**tissue, **lip}.items() if key.endswith("_source")}
    sources |= {f"{part}.young_modulus_kpa": tissue["layer"][part]["source"] for part in lip["thickness_mm"]}
    return LibraryLip(name, layers, table["calibration"], sources)


def library_load(name: str) -> LibraryLoad:
    """Return the load of that name; `KeyError` where there is none."""
    load = _table("loads.toml")[name]
    values = {key: load[key] for key in ("force_n", "mouth_pressure_kpa")}
    return LibraryLoad(name, load["meaning"], values, {key: load[f"{key}_source"] for key in values})


def listing() -> str:
    """List what ships with the package, a line each."""
    demos = [f"  {name:<20} {tomllib.loads(demo_text(name))['title']}" for name in demo_names()]
    lips = [f"  {name:<20} {_lip_line(library_lip(name))}" for name in lip_names()]
    loads = [f"  {name:<20} {_load_line(library_load(name))}" for name in load_names()]
    sheets = [f"  {name:<20} {_sheet_line(name)}" for name in sheet_names()]
    note = textwrap.wrap(_table("lips.toml")["calibration"], 100, initial_indent="  ", subsequent_indent="  ")
    return "\n".join(
        (
            *("cases (labrum solve NAME, labrum show NAME)", *demos, ""),
            *("lips (lip.type)", *lips, "", *note, ""),
            *("loads (load.preset); in brackets where the force comes from", *loads, "", *_tags_explained(), ""),
            *("players' sheets (labrum show NAME, labrum lip NAME)", *sheets),
        )
    )


def _tags_explained() -> list[str]:
    """Say what the tags beside a source mean, those that are met."""
    met = {text[: text.index("]") + 1] for text in _all_sources() if text.startswith("[")}
    return [f"  {tag} {words}" for tag, words in TAGS.items() if tag in met]


def _all_sources() -> list[str]:
    lips = [text for name in lip_names() for text in library_lip(name).sources.values()]
    return lips + [text for name in load_names() for text in library_load(name).sources.values()]


def _sheet_line(name: str) -> str:
    return str(tomllib.loads(sheet_text(name)).get("alias", "to be filled in: every key explained"))


def _lip_line(lip: LibraryLip) -> str:
    total = sum(layer["thickness_mm"] for layer in lip.layers)
    parts = ", ".join(f"{layer['name']} {layer['thickness_mm']:g} mm" for layer in lip.layers)
    return f"{total:.1f} mm over the teeth: {parts}"


def _load_line(load: LibraryLoad) -> str:
    force, pressure = load.values["force_n"], load.values["mouth_pressure_kpa"]
    tag = load.sources["force_n"].partition("]")[0] + "]"
    return f"{force:4.0f} N, {pressure:4.1f} kPa in the mouth: {load.meaning} {tag}"


def _layer(part: str, thickness: float, tissue: dict[str, Any], factor: float) -> dict[str, Any]:
    poisson, muscle = tissue["poisson_ratio"], tissue["layer"][part]["muscle"]
    shear = factor * tissue["layer"][part]["young_modulus_kpa"] / (2.0 * (1.0 + poisson))
    layer = {
        "name": part,
        "thickness_mm": thickness,
        "shear_modulus_kpa": shear,
        "stiffening_kpa": [ratio * shear for ratio in tissue["stiffening_ratio"]],
        "poisson_ratio": poisson,
        "muscle": muscle,
    }
    return layer | ({key: tissue[key] for key in MUSCLE_KEYS} if muscle else {})


@cache
def _table(name: str) -> dict[str, Any]:
    return tomllib.loads(files("labrum.cases").joinpath("library", name).read_text(encoding="utf-8"))


def _demo_folder() -> Any:
    return files("labrum.cases").joinpath("demo")


def _sheet_folder() -> Any:
    return files("labrum.cases").joinpath("library", "sheets")

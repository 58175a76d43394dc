"""The ``[lip]`` table: a lip of the library, or layers of one's own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from labrum.cases.case_file.faults import Findings
from labrum.cases.case_file.schema import LAYER, LIP, MUSCLE
from labrum.cases.case_file.tables import read_table
from labrum.cases.case_file.values import shown
from labrum.cases.library.shelf import library_lip
from labrum.simulate.problem import Layer, Lip

MPA_PER_KPA = 1e-3  # one kPa in MPa
MOST_LAYERS = 20


@dataclass(frozen=True)
class ReadLip:
    """What ``[lip]`` gave: ``lip`` is None where it has faults; ``values`` are the table's good values."""

    lip: Lip | None
    values: dict[str, Any]
    resolved: dict[str, Any]


def read_lip(raw: Any, findings: Findings) -> ReadLip:
    """Read the table and its layers and note every fault."""
    before = len(findings.faults)
    values = read_table(LIP, raw, ("lip",), findings)
    layers = _layers(raw, values, findings) if isinstance(raw, dict) else []
    _note_misfit(values, findings)
    _note_muscle_in_the_opening(values, layers, findings)
    if len(findings.faults) > before:
        return ReadLip(None, values, {})
    measures = {
        key: values[key]
        for key in ("radius_mm", "opening_radius_mm", "backing", "edge", "tooth_gap_radius_mm", "fold_radius_mm")
    }
    return ReadLip(_lip(measures, layers), values, {**measures, "layer": layers})


def _layers(raw: dict[str, Any], values: dict[str, Any], findings: Findings) -> list[dict[str, Any]]:
    allowed = "either a type of the library or one or more [[lip.layer]]"
    if "type" in raw and "layer" in raw:
        findings.fault(("lip", "type"), "type together with layer", allowed)
    if "layer" in raw:
        return _own_layers(raw["layer"], findings)
    if "type" not in raw:
        findings.fault(("lip",), "neither type nor layer", allowed)
    return [dict(layer) for layer in library_lip(values["type"]).layers] if "type" in values else []


def _own_layers(raw: Any, findings: Findings) -> list[dict[str, Any]]:
    if not isinstance(raw, list) or not raw:
        hint = "two brackets: [[lip.layer]]" if isinstance(raw, dict) else ""
        findings.fault(("lip", "layer"), shown(raw), "one or more [[lip.layer]]", hint)
        return []
    if len(raw) > MOST_LAYERS:
        findings.fault(("lip", "layer"), shown(raw), f"at most {MOST_LAYERS} [[lip.layer]]")
        return []
    return [_own_layer(item, index, findings) for index, item in enumerate(raw)]


def _own_layer(raw: Any, index: int, findings: Findings) -> dict[str, Any]:
    path = ("lip", "layer", index)
    layer = {"name": f"layer {index + 1}", **read_table(LAYER, raw, path, findings)}
    if layer.get("muscle"):
        return {**MUSCLE, **layer}
    for name in MUSCLE:
        if layer.get(name):
            hint = "set muscle = true, or leave it out"
            findings.fault((*path, name), shown(layer[name]), "left out in a layer without muscle", hint)
    return layer


def _note_misfit(values: dict[str, Any], findings: Findings) -> None:
    radius = values.get("radius_mm")
    for name in ("opening_radius_mm", "tooth_gap_radius_mm"):
        if radius is not None and name in values and values[name] >= radius:
            allowed = f"less than {radius:g} mm, the lip's radius_mm"
            findings.fault(("lip", name), shown(values[name]), allowed)


def _note_muscle_in_the_opening(
    values: dict[str, Any], layers: list[dict[str, Any]], findings: Findings
) -> None:
    opening = values.get("opening_radius_mm", 0.0)
    for index, layer in enumerate(layers):
        outer = layer.get("muscle_outer_radius_mm")
        if outer is not None and layer.get("muscle") and outer <= opening:
            allowed = f"more than {opening:g} mm, the lip's opening_radius_mm"
            findings.fault(("lip", "layer", index, "muscle_outer_radius_mm"), shown(outer), allowed)


def _lip(values: dict[str, Any], layers: list[dict[str, Any]]) -> Lip:
    return Lip(
        layers=tuple(_layer(layer) for layer in layers),
        radius=values["radius_mm"],
        opening_radius=values["opening_radius_mm"],
        backing=values["backing"],
        tooth_gap_radius=values["tooth_gap_radius_mm"],
        edge=values["edge"],
        fold_radius=values["fold_radius_mm"],
    )


def _layer(layer: dict[str, Any]) -> Layer:
    c2, c3 = layer["stiffening_kpa"]
    return Layer(
        name=layer["name"],
        thickness=layer["thickness_mm"],
        shear_modulus=layer["shear_modulus_kpa"] * MPA_PER_KPA,
        stiffening=(c2 * MPA_PER_KPA, c3 * MPA_PER_KPA),
        poisson_ratio=layer["poisson_ratio"],
        muscle=layer["muscle"],
        **_muscle(layer),
    )


def _muscle(layer: dict[str, Any]) -> dict[str, float]:
    if not layer["muscle"]:
        return {}
    return {
        "active_stress": layer["active_stress_kpa"] * MPA_PER_KPA,
        "muscle_outer_radius": layer["muscle_outer_radius_mm"],
        "active_stiffening": layer["active_stiffening"],
    }

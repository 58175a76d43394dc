"""What ships with the package: its values, their sources, and that every shipped case reads."""

from __future__ import annotations

import pytest

from labrum.cases.case_file.reading import case_from_text, read_case
from labrum.cases.library import shelf as library


def tags(text: str) -> set[str]:
    return {tag for tag in ("[V]", "[M]", "[J]") if tag in text}


@pytest.mark.parametrize(
    ("name", "thickness", "factor"), [("thin", 8.5, 1.25), ("average", 11.5, 1.0), ("fleshy", 15.0, 0.8)]
)
def test_library_lips_have_the_stiffness_their_youngs_moduli_say(
    name: str, thickness: float, factor: float
) -> None:
    """E = 2 mu (1 + nu), turned round; 150, 80 and 50 kPa are the calibration the file declares."""
    lip = library.library_lip(name)
    assert [layer["name"] for layer in lip.layers] == ["skin", "core", "mucosa"]
    assert sum(layer["thickness_mm"] for layer in lip.layers) == pytest.approx(thickness)
    for layer, young in zip(lip.layers, (150.0, 80.0, 50.0), strict=True):
        assert layer["shear_modulus_kpa"] * 2 * (1 + layer["poisson_ratio"]) == pytest.approx(factor * young)
        assert layer["poisson_ratio"] == 0.495
        c2, c3 = layer["stiffening_kpa"]
        assert (c2 / layer["shear_modulus_kpa"], c3) == (pytest.approx(0.235), 0.0)


@pytest.mark.parametrize("name", library.lip_names())
def test_only_the_core_is_muscle_and_its_stress_is_not_scaled(name: str) -> None:
    """225 kPa along the fibres over half of the section, whatever the lip's stiffness factor."""
    skin, core, mucosa = library.library_lip(name).layers
    assert not skin["muscle"]
    assert not mucosa["muscle"]
    assert core["muscle"]
    assert core["active_stress_kpa"] == 225.0 / 2
    assert (core["muscle_outer_radius_mm"], core["active_stiffening"]) == (18.0, 2.8)


def test_every_library_value_names_its_source() -> None:
    for name in library.lip_names():
        lip = library.library_lip(name)
        assert "calibration" in lip.calibration
        assert all(tags(source) for source in lip.sources.values())
        assert {f"{layer['name']}.young_modulus_kpa" for layer in lip.layers} <= set(lip.sources)
    for name in library.load_names():
        load = library.library_load(name)
        assert set(load.sources) == set(load.values)
        assert all(tags(source) or "no limit known" in source for source in load.sources.values())


def test_loads_rise_from_soft_to_limit_for_every_instrument() -> None:
    for instrument in ("trumpet", "horn", "trombone", "tuba"):
        loads = [
            library.library_load(f"{instrument}-{level}") for level in ("soft", "typical", "loud", "limit")
        ]
        forces = [load.values["force_n"] for load in loads]
        pressures = [load.values["mouth_pressure_kpa"] for load in loads]
        assert forces == sorted(set(forces))
        assert pressures == sorted(pressures)


@pytest.mark.parametrize("name", library.demo_names())
def test_every_shipped_case_reads_and_says_it_is_invented(name: str) -> None:
    case = read_case(name)
    assert case.warnings == ()
    assert "invented" in case.problem.title.lower()
    assert library.demo_text(name).startswith("# An invented scenario")


def test_demo_comes_first_and_uses_the_library() -> None:
    assert library.demo_names()[0] == "demo"
    case = read_case("demo")
    assert (case.problem.load.force, case.presets) == (20.0, {"lip": "average"})


def test_an_unknown_shipped_case_is_a_key_error() -> None:
    with pytest.raises(KeyError):
        library.demo_text("nosuch")


def test_every_library_lip_and_load_makes_a_case(case_text: str) -> None:
    for lip in library.lip_names():
        for load in library.load_names():
            text = case_text.replace('"average"', f'"{lip}"').replace("force_n = 20.0", f'preset = "{load}"')
            case = case_from_text(text)
            assert case.problem.load.force == library.library_load(load).values["force_n"]
            assert case.presets == {"lip": lip, "load": load}

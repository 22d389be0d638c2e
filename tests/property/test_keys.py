"""Every numeric key: varied in a study, or given with ``--set``, it is one design."""

from __future__ import annotations

import dataclasses
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import tomlkit

from regen.case.keys import CIRCUIT, SECTIONS
from regen.case.read import load_case
from regen.design import Design
from regen.studies.batch.parameters import Parameter, applied, numeric_key, read
from regen.units import Quantity, Refusal, parse
from tests.helpers.places import CASES

# A text with all digits, read through one conversion of units.
READ = 1e-12

DEMO = "a-methane"
SI = {
    "length": "m",
    "pressure": "Pa",
    "temperature": "K",
    "mass flow": "kg/s",
    "angle": "rad",
    "force": "N",
    "conductivity": "W/(m K)",
    "thermal resistance": "m2 K/W",
    "area": "m2",
    "stress": "Pa",
    "heat flux": "W/m2",
    "time": "s",
    "current density": "A/m^2",
    "rate of growth": "m/s",
    "toughness": "J/m^2",
    "molar mass": "kg/mol",
}

FIELDS = {"closeout.nickel": "jacket"}
"""Fields of the design that have not the name of their key."""

# Where the demo case leaves a key out, or it shuts another out: keys to give, "-" to leave out,
# and the values that are then tried. Together with the demo's own they must be all there are.
MORE: dict[str, tuple[dict[str, Any], dict[str, float]]] = {
    "a thrust and a bell": (
        {
            "contour.throat_diameter": "-",
            "contour.thrust": "5 kN",
            "contour.characteristic_length": "-",
            "contour.barrel_length": "90 mm",
            "contour.divergent_half_angle": "-",
            "contour.nozzle": "bell",
            "contour.bell_start_angle": "30 deg",
            "contour.bell_exit_angle": "12 deg",
        },
        {
            "contour.thrust": 5500.0,
            "contour.ambient_pressure": 5e4,
            "contour.barrel_length": 0.1,
            "contour.bell_length_fraction": 0.85,
            "contour.bell_start_angle": 0.5,
            "contour.bell_exit_angle": 0.2,
        },
    ),
    "stored propellants": (
        {
            "propellants.oxidizer": "hydrogen-peroxide",
            "propellants.fuel": "ethanol",
            "coolant.fluid": "water",
            "coolant.mass_flow": "1 kg/s",
            "coolant.inlet_temperature": "290 K",
            "limits.burnout_fraction": 0.5,
            "limits.burnout_flux": "12 MW/m2",
        },
        {
            "limits.burnout_fraction": 0.45,
            "limits.burnout_flux": 11e6,
            "propellants.oxidizer_temperature": 290.0,
            "propellants.fuel_temperature": 285.0,
            "propellants.oxidizer_concentration": 0.87,
            "propellants.fuel_water": 0.2,
            "coolant.mass_flow": 0.9,
        },
    ),
    "a coolant of its own": (
        {
            "coolant.fluid": "oil",
            "coolant.table": str(CASES / "invented-kerosene.csv"),
            "coolant.saturation": str(CASES / "invented-kerosene-saturation.csv"),
            "coolant.critical_pressure": "21 bar",
            "coolant.molar_mass": "168 g/mol",
            "coolant.mass_flow": "1 kg/s",
            "coolant.inlet_temperature": "300 K",
        },
        {"coolant.critical_pressure": 21.5e5, "coolant.molar_mass": 0.17},
    ),
    "a coated liner cooled in part": (
        {
            "liner.coating": [["-150 mm", "0.1 mm"], ["0 mm", "0.2 mm"]],
            "liner.coating_conductivity": "1.5 W/(m K)",
            "models.mixing_factor": [["-150 mm", 0.4], ["-80 mm", 1.0]],
            "models.deposit_resistance": [["-150 mm", "2e-5 m2 K/W"], ["0 mm", "1e-5 m2 K/W"]],
        },
        {
            "liner.coating": 0.15e-3,
            "liner.coating_conductivity": 2.0,
            "channels.cooled_from": -0.09,
            "channels.cooled_to": 0.02,
            "models.mixing_factor": 0.9,
            "models.deposit_resistance": 3e-5,
        },
    ),
    "down and back": (
        {"channels.passes": "down and back"},
        {"channels.turn_loss": 1.5, "channels.cooled_to_area_ratio": 4.0},
    ),
    "an outlet": (
        {"coolant.inlet_pressure": "-", "coolant.outlet_pressure": "60 bar"},
        {"coolant.outlet_pressure": 65e5},
    ),
    "a rough wall by its grain": (
        {"channels.roughness_Ra": "-", "channels.roughness_sand_grain": "5 um"},
        {"channels.roughness_sand_grain": 7e-6},
    ),
    "rings": (
        {
            "shop.flow_shortfall": "-",
            "manifolds.inlet_bore": "16 mm",
            "manifolds.inlet_taps": 2,
            "manifolds.outlet_bore": "25 mm",
            "manifolds.outlet_taps": 2,
            "manifolds.outlet_turn": "90 deg",
        },
        {
            "manifolds.inlet_bore": 0.018,
            "manifolds.inlet_taps": 3,
            "manifolds.outlet_bore": 0.022,
            "manifolds.outlet_taps": 4,
            "manifolds.outlet_turn": 1.0,
            "manifolds.recovery": 0.6,
        },
    ),
    "a film": (
        {"film.mass_flow": "0.1 fuel"},
        {
            "film.mass_flow": 0.12,
            "film.temperature": 115.0,
            "film.injected_at": -0.1,
            "film.entrainment": 0.07,
        },
    ),
    "a film of a flow": ({"film.mass_flow": "0.03 kg/s"}, {"film.mass_flow": 0.04}),
    "a film from a slot": (
        {
            "film.model": "slot",
            "film.state": "gas",
            "film.mass_flow": "0.03 kg/s",
            "film.slot_height": "0.5 mm",
            "film.temperature": "300 K",
        },
        {"film.slot_height": 0.4e-3},
    ),
    "a rich layer": (
        {
            "film.model": "layer mixture ratio",
            "film.layer_mixture_ratio": [["-150 mm", 1.5], ["0 mm", 2.0]],
        },
        {"film.layer_mixture_ratio": 1.8},
    ),
    "limits": ({}, {"limits.T_wall_hot": 780.0, "limits.T_wall_cold": 650.0}),
    "a life": (
        {
            "life.firings": 20,
            "life.fatigue_strength": "400 MPa",
            "life.fatigue_strength_exponent": -0.1,
            "life.fatigue_ductility": 0.4,
            "life.fatigue_ductility_exponent": -0.6,
            "life.fatigue_temperature": "811 K",
        },
        {
            "life.firings": 30,
            "life.firing_duration": 40.0,
            "life.ductility": 0.6,
            "life.fatigue_strength": 350e6,
            "life.fatigue_strength_exponent": -0.09,
            "life.fatigue_ductility": 0.5,
            "life.fatigue_ductility_exponent": -0.55,
            "life.fatigue_temperature": 700.0,
        },
    ),
    "plating": (
        {},
        {
            "plating.nickel_current_density": 250.0,
            "plating.copper_current_density": 300.0,
            "plating.nickel_efficiency": 0.95,
            "plating.copper_efficiency": 0.96,
            "plating.nickel_rate": 5e-9,
            "plating.copper_rate": 6e-9,
            "plating.nickel_profile": 1.1,
            "plating.copper_profile": 0.9,
            "plating.nickel_stock": 1.2e-3,
            "plating.copper_stock": 0.2e-3,
            "plating.nickel_deposit": 5e-3,
            "plating.copper_deposit": 0.5e-3,
            "plating.turn_each": 0.8e-3,
            "plating.turn_cut": 0.1e-3,
            "plating.turn_tolerance": 0.03e-3,
            "plating.turn_time": 3e4,
            "plating.extra_area": 0.01,
            "plating.nickel_bath_temperature": 320.0,
            "plating.copper_bath_temperature": 300.0,
            "plating.wax_melts": 345.0,
            "plating.nickel_stress": 30e6,
            "plating.copper_stress": -10e6,
            "plating.toughness": 200.0,
            "plating.unbond": 4e-3,
            "plating.barrier": 0.2e-3,
        },
    ),
    "sizes to be chosen": (
        {"sizing.free": ["count", "width", "depth", "wall", "flow"]},
        {
            "sizing.count_from": 50,
            "sizing.count_to": 120,
            "sizing.width_from": 0.5e-3,
            "sizing.width_to": 1.4e-3,
            "sizing.depth_from": 0.9e-3,
            "sizing.depth_to": 3.5e-3,
            "sizing.wall_from": 0.6e-3,
            "sizing.wall_to": 1.1e-3,
            "sizing.flow_from": 0.8,
            "sizing.flow_to": 0.95,
        },
    ),
}

CIRCUITS: dict[str, tuple[dict[str, Any], dict[str, float]]] = {
    "metered": (
        {},
        {
            "circuits.throat.cooled_from": -0.017,
            "circuits.throat.cooled_to": 0.011,
            "circuits.throat.mass_flow": 0.3205,  # the flows must go on adding up
            "circuits.nozzle.cooled_to_area_ratio": 2.2,
            "circuits.throat.count": 40,
            "circuits.throat.width": 0.7e-3,
            "circuits.throat.depth": 0.9e-3,
            # inherited by all
            "channels.count": 50,
            "channels.width": 0.75e-3,
            "channels.depth": 0.65e-3,
            "channels.roughness_Ra": 1.2e-6,
        },
    ),
    "one with slots of its own": (
        {"circuits.throat.count": 40, "circuits.throat.depth": "0.7 mm"},
        {"channels.count": 50, "channels.depth": 0.65e-3},
    ),
    "one down and back": (
        {"circuits.throat.passes": "down and back", "circuits.throat.turn_loss": 1.8},
        {"circuits.throat.turn_loss": 2.0},
    ),
    "shared": (
        {
            **{f"circuits.{name}.mass_flow": "-" for name in ("injector-end", "barrel")},
            **{f"circuits.{name}.mass_flow": "-" for name in ("barrel-end", "convergent")},
            **{f"circuits.{name}.mass_flow": "-" for name in ("throat", "nozzle")},
            **{f"circuits.{name}.share": 0.15 for name in ("injector-end", "barrel")},
            **{f"circuits.{name}.share": 0.15 for name in ("barrel-end", "convergent")},
            **{f"circuits.{name}.share": 0.2 for name in ("throat", "nozzle")},
        },
        {"circuits.throat.share": 0.2004},
    ),
}


def given(case: str, more: dict[str, Any]) -> dict[str, Any]:
    """Return a case as its file has it, with some keys given or left out."""
    tables: dict[str, Any] = tomllib.loads((CASES / f"{case}.toml").read_text(encoding="utf-8"))
    for path, value in more.items():
        *sections, key = path.split(".")
        table = tables
        for section in sections:
            table = table.setdefault(section, {})
        if value == "-":
            table.pop(key)
        else:
            table[key] = value
    return tables


def written(folder: Path, tables: dict[str, Any]) -> Path:
    path = folder / "case.toml"
    path.write_text(tomlkit.dumps(tables), encoding="utf-8")
    return path


def text_of(key: Parameter, value: float) -> str:
    """Return a value as it is written after ``--set KEY=``, with all its digits."""
    if key.form == "share of the fuel":
        return f"{value!r} fuel"
    if key.kind:
        return f"{value!r} {SI[key.kind]}"
    return repr(int(value) if key.whole else value)


def differences(found: object, wanted: object, where: str = "design") -> list[str]:
    """Return where two designs are not the same; notes for the reader are not compared."""
    if dataclasses.is_dataclass(found) and type(found) is type(wanted):
        fields = [f.name for f in dataclasses.fields(found) if f.name != "notes"]
        pairs = [(getattr(found, f), getattr(wanted, f), f"{where}.{f}") for f in fields]
        return [line for pair in pairs for line in differences(*pair)]
    if isinstance(found, tuple) and isinstance(wanted, tuple) and len(found) == len(wanted):
        both = enumerate(zip(found, wanted, strict=True))
        pairs = [(a, b, f"{where}[{n}]") for n, (a, b) in both]
        return [line for pair in pairs for line in differences(*pair)]
    if isinstance(found, float) and isinstance(wanted, float):
        same = abs(found - wanted) <= READ * abs(wanted)
    else:
        same = found == wanted and type(found) is type(wanted)
    return [] if same else [f"{where}: {found!r}, not {wanted!r}"]


ELSEWHERE = (
    "plating.extra_area",
    "propellants.oxidizer_concentration",
    "propellants.fuel_water",
    "contour.ambient_pressure",
    "contour.bell_length_fraction",
    "channels.turn_loss",
)
"""Keys with a default that the demo's other keys shut out: tried in ``MORE``."""


def own_numbers(design: Design) -> dict[str, float]:
    """Return every number key that the demo case gives or has a default for, a little changed."""
    found = {}
    for path in numeric_paths():
        section, _, name = path.partition(".")
        if section in ("manifolds", "film", "circuits"):
            continue
        key = numeric_key(path, design)
        value = getattr(getattr(design, section), FIELDS.get(path, name), None)
        if isinstance(value, float | int) and not isinstance(value, bool):
            found[path] = value + 1 if key.whole or value == 0 else 0.98 * value
        elif hasattr(value, "value"):
            found[path] = 0.98 * max(value.value)
    for path in ELSEWHERE:
        del found[path]
    found["coolant.mass_flow"] = 0.9
    found["channels.roughness_Ra"] = 1e-6
    return found


@cache
def numeric_paths() -> tuple[str, ...]:
    """Return every key of a section that holds a number."""
    design = load_case(CASES / f"{DEMO}.toml").design
    found = []
    for section, keys in SECTIONS.items():
        for name in keys:
            try:
                numeric_key(f"{section}.{name}", design)
            except Refusal:
                continue
            found.append(f"{section}.{name}")
    return tuple(found)


def check(path: Path, values: dict[str, float]) -> None:
    design = load_case(path).design
    for name, value in values.items():
        key = numeric_key(name, design)
        text = text_of(key, value)
        wanted = load_case(path, [f"{name}={text}"]).design
        as_read, number = read(
            key, text.removesuffix(" fuel"), "fuel" if "fuel" in text else "", design
        )
        assert differences(applied(design, as_read, number), wanted) == []
        assert applied(design, key, value) != design, name


def test_a_value_of_the_demo_is_that_of_the_case_file(tmp_path):
    path = written(tmp_path, given(DEMO, {}))
    check(path, own_numbers(load_case(path).design))


@pytest.mark.parametrize("name", MORE)
def test_a_value_of_another_case_is_that_of_its_file(name, tmp_path):
    more, values = MORE[name]
    check(written(tmp_path, given(DEMO, more)), values)


@pytest.mark.parametrize("name", CIRCUITS)
def test_a_value_of_a_circuit_is_that_of_the_case_file(name, tmp_path):
    more, values = CIRCUITS[name]
    check(written(tmp_path, given("d-water-calorimeter", more)), values)


PROFILES = {
    "liner.wall": [["-150 mm", "0.8 mm"], ["0 mm", "0.7 mm"]],
    "channels.width": [["-150 mm", "0.8 mm"], ["0 mm", "0.7 mm"], ["60 mm", "0.9 mm"]],
    "channels.depth": [["-150 mm", "1.6 mm"], ["0 mm", "2.0 mm"]],
    "liner.coating": [["-150 mm", "0.1 mm"], ["0 mm", "0.2 mm"]],
    "models.mixing_factor": [["-150 mm", 0.4], ["-80 mm", 1.0]],
    "models.deposit_resistance": [["-150 mm", "2e-5 m2 K/W"], ["0 mm", "1e-5 m2 K/W"]],
    "film.layer_mixture_ratio": [["-150 mm", 1.5], ["0 mm", 2.0]],
}
BESIDE: dict[str, dict[str, Any]] = {
    "liner.coating": {"liner.coating_conductivity": "1.5 W/(m K)"},
    "film.layer_mixture_ratio": {"film.model": "layer mixture ratio"},
}
FACTOR, SHARE = 1.25, 0.125


@pytest.mark.parametrize("how", ["per cent", "factor", "shift", "point"])
@pytest.mark.parametrize("name", PROFILES)
def test_a_changed_profile_is_that_of_the_case_file(name, how, tmp_path):
    pairs = PROFILES[name]
    path = written(tmp_path, given(DEMO, {**BESIDE.get(name, {}), name: pairs}))
    design = load_case(path).design
    key = numeric_key(name, design)
    values = [parse(v, key.kind).value if key.kind else v for _, v in pairs]
    step = SHARE * min(values)
    if how == "per cent":
        key, value = read(key, f"{FACTOR:.0%}", "", design)
        assert key.relative
    elif how == "factor":
        key, value = dataclasses.replace(key, relative=True), FACTOR
    elif how == "shift":
        key, value = dataclasses.replace(key, shift=True), step
    else:
        key, value = dataclasses.replace(key, point=1), values[1] + step
    changed = {
        "per cent": [FACTOR * v for v in values],
        "factor": [FACTOR * v for v in values],
        "shift": [v + step for v in values],
        "point": [v + step if n == 1 else v for n, v in enumerate(values)],
    }[how]
    unit = f" {SI[key.entry.kind]}" if isinstance(key.entry, Quantity) else ""
    new = [[x, f"{v!r}{unit}" if unit else v] for (x, _), v in zip(pairs, changed, strict=True)]
    wanted = load_case(written(tmp_path, given(DEMO, {**BESIDE.get(name, {}), name: new}))).design
    assert differences(applied(design, key, value), wanted) == []


def test_no_numeric_key_is_left_out_here():
    design = load_case(CASES / f"{DEMO}.toml").design
    tried = set(own_numbers(design)).union(*(values for _, values in MORE.values()))
    assert set(numeric_paths()) <= tried
    of_circuits = {path.rpartition(".")[2] for _, values in CIRCUITS.values() for path in values}
    for name in CIRCUIT:
        try:
            numeric_key(
                f"circuits.throat.{name}", load_case(CASES / "d-water-calorimeter.toml").design
            )
        except Refusal:
            continue
        assert name in of_circuits

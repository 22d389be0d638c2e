"""Sound cases: values in SI, forms of a value, files, notes, overrides, schema, edits."""

import json
import math
import pickle
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import numpy as np
import pytest

from regen.case.keys import SECTIONS, json_schema
from regen.case.read import case_from, load_case, starter_text
from regen.design import ContourProfile, Profile
from regen.errors import CaseError
from tests.helpers.places import CASES

ROUNDING = 1e-12


@pytest.fixture
def write(tmp_path):
    """Write the starter with replacements and return its path."""

    def write_case(*replacements, text=None):
        text = starter_text() if text is None else text
        for old, new in replacements:
            assert old in text, old
            text = text.replace(old, new, 1)
        path = tmp_path / "case.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write_case


def test_starter_in_si(write):
    design = load_case(write()).design
    assert design.title == "Linnet bench chamber, 5 kN"
    assert (design.propellants.oxidizer, design.propellants.fuel) == ("oxygen", "methane")
    assert design.chamber.pressure == pytest.approx(30e5, rel=ROUNDING)
    assert design.chamber.pressure_at == "injector"
    assert design.contour.throat_diameter == pytest.approx(0.038, rel=ROUNDING)
    assert design.contour.characteristic_length == pytest.approx(0.75, rel=ROUNDING)
    assert design.contour.convergent_half_angle == pytest.approx(math.pi / 6, rel=ROUNDING)
    assert design.liner.wall.value == pytest.approx((0.0008,), rel=ROUNDING)
    assert design.channels.count == 80
    assert design.channels.width.x == pytest.approx((-0.15, 0.0, 0.06), rel=ROUNDING)
    assert design.channels.width.value == pytest.approx((8e-4, 7e-4, 8e-4), rel=ROUNDING)
    assert design.coolant.inlet_pressure == pytest.approx(90e5, rel=ROUNDING)
    assert design.coolant.fuel_fraction == 1.0
    assert design.coolant.mass_flow is None
    assert design.coolant.returns_to_injector
    assert design.shop.width_tolerance == pytest.approx(3e-5, rel=ROUNDING)


def test_case_a_is_the_starter():
    assert (CASES / "a-methane.toml").read_text(encoding="utf-8") == starter_text()


@pytest.mark.parametrize("path", sorted(CASES.glob("*.toml")), ids=lambda path: path.stem)
def test_every_case_loads(path):
    case = load_case(path)
    assert case.design.title.startswith("Linnet")
    assert case.path == path


def test_starter_names_every_key():
    text = starter_text().replace("\n# [film]", "\n[film]")  # there as a comment
    for name, keys in SECTIONS.items():
        body = text.partition(f"\n[{name}]")[2].partition("\n\n[")[0]
        for key in keys:
            assert re.search(rf"\b{key} = ", body), f"{name}.{key}"


def test_starter_gives_the_defaults_it_spells_out(write):
    # a key that is given with its default must not differ from one left out; the demo chamber
    # accepts a little more Mach number than the usual guide, and its comment says so
    differs = {"limits.mach", "closeout.nickel"}
    assert "0.3 without it" in starter_text()
    schema = json_schema()
    raw = tomllib.loads(starter_text())
    spelled = {"closeout", "limits", "shop", "models"}
    for name in spelled:
        for key, value in raw[name].items():
            default = schema["$defs"][name.capitalize()]["properties"][key]["default"]
            assert (value == default) != (f"{name}.{key}" in differs), f"{name}.{key}"


def test_sections_with_defaults_may_be_absent(write):
    text = starter_text().partition("[closeout]")[0]
    assert load_case(write(text=text)).design.limits.mach == 0.3


@pytest.mark.parametrize(
    ("given", "mass_flow", "fraction"),
    [
        ("fuel", None, 1.0),
        ("0.8 fuel", None, 0.8),
        ("80 % of fuel", None, 0.8),
        ("0.48 kg/s", 0.48, None),
        ("1 lb/s", 0.45359237, None),
    ],
)
def test_forms_of_mass_flow(write, given, mass_flow, fraction):
    coolant = load_case(write(('mass_flow = "fuel"', f'mass_flow = "{given}"'))).design.coolant
    assert coolant.mass_flow == (mass_flow and pytest.approx(mass_flow, rel=ROUNDING))
    assert coolant.fuel_fraction == (fraction and pytest.approx(fraction, rel=ROUNDING))


def test_a_film_and_what_covers_the_wall(write, tmp_path):
    (tmp_path / "m.csv").write_text("x [in] mixing_factor [-]\n-6 0.4\n-3 1\n")
    design = load_case(
        write(
            ('wall = "0.8 mm"', 'wall = "0.8 mm"\ncoating = "0.1 mm"'),
            ("# coating_conductivity", "coating_conductivity"),
            ("# [film]", '[film]\nmass_flow = "8 % of fuel"\ntemperature = "120 K"\n# [film]'),
            ('gas_side = "bartz"', 'gas_side = "bartz"\nmixing_factor = {file = "m.csv"}'),
            ("# deposit_resistance", "deposit_resistance"),
        )
    ).design
    assert design.film.fluid == "methane"
    assert design.film.fuel_fraction == pytest.approx(0.08)
    assert design.film.mass_flow is None
    assert design.liner.coating.value == pytest.approx((1e-4,))
    assert design.liner.coating_conductivity == pytest.approx(1.5)
    assert design.models.mixing_factor.x == pytest.approx((-0.1524, -0.0762))
    assert design.models.mixing_factor.value == (0.4, 1.0)
    assert design.models.deposit_resistance.value == pytest.approx((2e-5,))
    assert load_case(write()).design.film is None


def test_heat_returns_by_rule_or_as_given(write):
    flow = 'mass_flow = "fuel"'
    explicit = load_case(write((flow, 'mass_flow = "0.4 kg/s"')))
    assert not explicit.design.coolant.returns_to_injector
    assert any("its heat is taken as lost" in note for note in explicit.notes)
    said = load_case(write((flow, 'mass_flow = "0.4 kg/s"\nreturns_to_injector = true')))
    assert said.design.coolant.returns_to_injector
    assert not any("taken as lost" in note for note in said.notes)
    no = load_case(write((flow, flow + "\nreturns_to_injector = false")))
    assert not no.design.coolant.returns_to_injector


def test_a_coolant_that_brings_its_heat_back_feeds_the_injector(write):
    """Or its pressure at the injector would not be judged."""
    flow = 'mass_flow = "fuel"'
    lost = f"{flow}\nfeeds_injector = false"
    with pytest.raises(CaseError, match=r"feeds_injector.*returns_to_injector = false"):
        load_case(write((flow, lost)))
    apart = load_case(write((flow, f"{lost}\nreturns_to_injector = false"))).design.coolant
    assert apart.feeds_injector is False


def test_a_jacket_is_judged_by_the_strength_of_the_bath_it_is_plated_in(write):
    watts = "[plating]\nnickel_bath = 'watts'"
    with pytest.raises(CaseError, match=r"nickel_bath.*jacket_condition = \"watts\""):
        load_case(write(("[plating]", watts)))
    nickel = 'nickel = "6 mm"'
    both = write(("[plating]", watts), (nickel, f"{nickel}\njacket_condition = 'watts'"))
    assert load_case(both).design.closeout.jacket_condition == "watts"


def test_gauge_pressure_gets_the_standard_atmosphere_and_a_note(write):
    case = load_case(write(('inlet_pressure = "90 bar"', 'inlet_pressure = "90 bar gauge"')))
    assert case.design.coolant.inlet_pressure == pytest.approx(90e5 + 101325.0, rel=ROUNDING)
    assert any("inlet_pressure" in note and "gauge" in note for note in case.notes)
    assert case.design.notes == case.notes


def test_ra_becomes_sand_grain_with_a_note_and_sand_grain_stays(write):
    case = load_case(write())
    # 5.863: Adams, Grant and Watson 2012 (from memory, high)
    assert case.design.channels.roughness == pytest.approx(5.863 * 0.8e-6, rel=ROUNDING)
    assert any("5.863 times Ra" in note for note in case.notes)
    grain = load_case(write(('roughness_Ra = "0.8 um"', 'roughness_sand_grain = "5 um"')))
    assert grain.design.channels.roughness == pytest.approx(5e-6, rel=ROUNDING)
    assert not any("Ra" in note for note in grain.notes)


def test_place_of_the_pressure_left_out_is_noted(write):
    case = load_case(write(('pressure_at = "injector"', "")))
    assert case.design.chamber.pressure_at == "injector"
    assert any("pressure_at is not given" in note for note in case.notes)


def test_stand_in_for_the_fuel_is_noted(write):
    case = load_case(
        write(
            ('fuel = "methane"', 'fuel = "RP-1"'),
            ('fluid = "methane"', 'fluid = "n-dodecane"'),
            ('inlet_temperature = "120 K"', 'inlet_temperature = "300 K"'),
        )
    )
    assert case.design.coolant.fuel_fraction == 1.0
    assert not case.design.coolant.returns_to_injector
    assert any("13 % too high" in note for note in case.notes)


def test_oxygen_as_coolant_is_warned_of(write):
    case = load_case(
        write(
            ('fluid = "methane"', 'fluid = "oxygen"'),
            ('mass_flow = "fuel"', 'mass_flow = "1.4 kg/s"'),
        )
    )
    assert any("residues" in note for note in case.notes)


def test_unused_fuel_temperature_is_noted(write):
    case = load_case(write(('# fuel_temperature = "111 K"', 'fuel_temperature = "111 K"')))
    assert any("fuel_temperature is not used" in note for note in case.notes)


def test_ambient_pressure_beside_a_throat_diameter_is_noted(write):
    line = '# ambient_pressure = "1 atm"'
    case = load_case(write((line, 'ambient_pressure = "1 atm"')))
    assert any("contour.ambient_pressure has no effect" in note for note in case.notes)
    sized = (('throat_diameter = "38 mm"', 'thrust = "5 kN"'), (line, 'ambient_pressure = "1 atm"'))
    assert not any("ambient_pressure" in note for note in load_case(write(*sized)).notes)


RINGS = """
inlet_bore = "16 mm"
inlet_taps = 2
outlet_bore = "1 in"
outlet_taps = 3
outlet_turn = "45 deg"
"""


def test_manifolds_in_si(write):
    shortfall = ("flow_shortfall = 0.10 ", "# flow_shortfall = 0.10 ")
    assert load_case(write()).design.manifolds is None
    rings = load_case(write(("[manifolds] ", f"[manifolds]{RINGS}#"), shortfall)).design.manifolds
    assert (rings.inlet_bore, rings.outlet_bore) == pytest.approx((0.016, 0.0254), rel=ROUNDING)
    assert (rings.inlet_taps, rings.outlet_taps) == (2, 3)
    assert rings.outlet_turn == pytest.approx(math.pi / 4, rel=ROUNDING)
    assert rings.recovery == 0.7


TABLES = {
    "commas": "x [mm], depth [mm]\n-150, 1.6\n0, 2.0\n",
    "semicolons": "x [mm]; depth [mm]\n-150; 1.6\n0; 2.0\n",
    "blanks with comments": (
        "# slots\n\nx [mm]  depth [mm]\n-150 1.6   # barrel\n# throat\n0\t2.0\n"
    ),
    "header in a comment": "# x [mm] depth [mm]\n-150 1.6\n0 2.0\n",
    "other units": "x [m], depth [um]\n-0.15, 1600\n0, 2e3\n",
    "inches": "x [in] depth [mil]\n-5.90551181102362 62.9921259842520\n0 78.7401574803150\n",
    "more columns": "width [mm], x [mm], depth [mm]\n0.8, -150, 1.6\n0.7, 0, 2.0\n",
    "byte order mark": "\ufeffx [mm], depth [mm]\r\n-150, 1.6\r\n0, 2.0\r\n",
}


@pytest.mark.parametrize("table", TABLES.values(), ids=TABLES.keys())
def test_value_along_x_from_a_file_beside_the_case(write, table):
    old = 'depth = [["-150 mm", "1.6 mm"], ["0 mm", "2.0 mm"]]'
    path = write((old, 'depth = {file = "depth.csv"}'))
    (path.parent / "depth.csv").write_bytes(table.encode())
    depth = load_case(path).design.channels.depth
    assert depth.x == pytest.approx((-0.15, 0.0), rel=1e-9)
    assert depth.value == pytest.approx((1.6e-3, 2e-3), rel=1e-9)


def test_missing_last_line_break_is_noted(write):
    old = 'depth = [["-150 mm", "1.6 mm"], ["0 mm", "2.0 mm"]]'
    path = write((old, 'depth = {file = "depth.csv"}'))
    (path.parent / "depth.csv").write_text("x [mm], depth [mm]\n-150, 1.6\n0, 2")
    notes = load_case(path).notes
    assert any("line 3" in note and "does not end with a line break" in note for note in notes)
    comment = "x [mm], depth [mm]\n-150, 1.6\n0, 2\n# end"
    (path.parent / "depth.csv").write_text(comment)
    assert not any("line break" in note for note in load_case(path).notes)


def test_constant_along_x(write):
    wall = load_case(write()).design.liner.wall
    assert wall == Profile((0.0,), (wall.value[0],))


def contour_case(write):
    text = starter_text()
    head, _, tail = text.partition("[contour]")
    text = head + '[contour]\nprofile = "wall.csv"\n\n[liner]' + tail.partition("[liner]")[2]
    path = write(text=text)
    rows = [(-100, 46), (-60, 46), (-30, 30), (-10, 20), (0, 19), (10, 20), (30, 25), (80, 40)]
    body = "".join(f"{x}, {r}\n" for x, r in rows)
    (path.parent / "wall.csv").write_text("x [mm], r [mm]\n" + body)
    return path


def test_contour_from_points(write):
    contour = load_case(contour_case(write)).design.contour
    assert isinstance(contour, ContourProfile)
    assert contour.r[4] == pytest.approx(0.019, rel=ROUNDING)
    assert contour.x[0] == pytest.approx(-0.1, rel=ROUNDING)
    assert contour.source == "wall.csv"


def test_hash_follows_values_and_files_not_comments(write, tmp_path):
    plain = load_case(write()).hash
    assert load_case(write(("[channels]  ", "# more\n[channels]"))).hash == plain
    assert load_case(write(("count = 80", "count = 81"))).hash != plain
    path = contour_case(write)
    before = load_case(path).hash
    points = path.parent / "wall.csv"
    points.write_text(points.read_text().replace("-100, 46", "-101, 46"))
    assert load_case(path).hash != before


def test_overrides_are_toml_values_or_texts(write):
    case = load_case(
        write(),
        [
            "channels.count=96",
            'liner.wall="0.7 mm"',
            "channels.depth = 1.5 mm",
            'channels.width=[["-10 mm", "0.8 mm"], ["0 mm", "0.9 mm"]]',
            "coolant.enters_at=injector",
            "limits.T_wall_hot=780 K",
            "title=Linnet, wider",
        ],
    )
    design = case.design
    assert design.channels.count == 96
    assert design.liner.wall.value == pytest.approx((7e-4,), rel=ROUNDING)
    assert design.channels.depth.value == pytest.approx((1.5e-3,), rel=ROUNDING)
    assert design.channels.width.value == pytest.approx((8e-4, 9e-4), rel=ROUNDING)
    assert design.coolant.enters_at == "injector"
    assert design.limits.T_wall_hot == 780.0
    assert design.title == "Linnet, wider"


def test_text_holds_the_overrides_and_keeps_comments(write, tmp_path):
    case = load_case(write(), ["channels.count=96", 'liner.wall="0.7 mm"'])
    assert "count = 96" in case.text
    assert 'wall = "0.7 mm"' in case.text
    assert "# hot wall, normal to the contour" in case.text
    again = tmp_path / "again.toml"
    again.write_text(case.text, encoding="utf-8")
    assert load_case(again).design == case.design
    assert load_case(again).hash == case.hash


def test_override_may_name_a_section_the_file_has_not(write):
    text = starter_text().partition("[limits]")[0]
    assert load_case(write(text=text), ["limits.mach=0.25"]).design.limits.mach == 0.25


def test_override_with_a_file(write):
    path = write()
    (path.parent / "depth.csv").write_text(TABLES["commas"])
    case = load_case(path, ['channels.depth={file = "depth.csv"}'])
    assert case.design.channels.depth.value == pytest.approx((1.6e-3, 2e-3), rel=ROUNDING)


def test_edit_keeps_comments_and_order():
    changes = {"channels.count": 96, "liner.wall": [["-1 mm", "0.8 mm"], ["0 mm", "0.7 mm"]]}
    case = case_from(starter_text(), Path("case.toml"))
    text = case.with_values(changes).text
    raw = tomllib.loads(text)
    assert raw["channels"]["count"] == 96
    assert raw["liner"]["wall"] == [["-1 mm", "0.8 mm"], ["0 mm", "0.7 mm"]]
    comments = [part for line in starter_text().splitlines() if (part := line.partition("#")[2])]
    assert all(comment in text for comment in comments)
    with pytest.raises(CaseError, match='did you mean "count"'):
        case.with_values({"channels.cuont": 3})


SAME_VALUES = {
    "channels.width": (0.75e-3, "0.75 mm"),
    "channels.depth": ([[-0.15, 1.5e-3], [0.0, 2e-3]], [["-150 mm", "1.5 mm"], ["0 mm", "2 mm"]]),
    "channels.count": ([[-0.15, 80], [-0.02, 40]], [["-150 mm", 80], ["-20 mm", 40]]),
    "coolant.inlet_pressure": (95e5, "95 bar"),
    "coolant.inlet_temperature": (125.0, "125 K"),
    "coolant.mass_flow": (0.48, "0.48 kg/s"),
    "liner.yield_strength": ([[293.15, 90e6]], [["20 degC", "90 MPa"]]),
    "limits.mach": (0.25, 0.25),
    "models.entrance": (True, True),
    "models.mixing_factor": ([[-0.15, 0.5], [0.0, 1.0]], [["-150 mm", 0.5], ["0 mm", 1.0]]),
    "coolant.enters_at": ("injector", "injector"),
}


@pytest.mark.parametrize("key", SAME_VALUES)
def test_a_value_in_si_is_that_of_the_file(write, key):
    in_si, in_file = SAME_VALUES[key]
    case = load_case(write())
    new = case.with_values({key: in_si})
    assert new.design == load_case(write(), {key: in_si}).design
    assert new.design == case.with_values({key: in_file}).design
    assert new.design != case.design or key in (
        "coolant.inlet_pressure",
        "coolant.inlet_temperature",
    )
    assert load_case(write(text=new.text)).hash == new.hash


def test_a_value_in_si_keeps_its_last_bit(write):
    case = load_case(write())
    width = 0.1 + 0.2  # no short decimal
    new = case.with_values({"channels.width": 1e-3 * width, "limits.T_wall_hot": 700.0 + width})
    assert new.design.channels.width == Profile((0.0,), (1e-3 * width,))
    assert new.design.limits.T_wall_hot == 700.0 + width
    numpy_too = case.with_values({"channels.width": np.array([[-0.1, 1e-3], [0.0, 2e-3]])})
    assert numpy_too.design.channels.width == Profile((-0.1, 0.0), (1e-3, 2e-3))
    own = case.with_values({"channels.width": case.design.channels.width})
    assert own.design == case.design


def test_new_values_are_checked_all_at_once_and_leave_the_case_as_it_was(write):
    case = load_case(write())
    with pytest.raises(CaseError) as caught:
        case.with_values(
            {"channels.cuont": 3, "liner.wall": -1e-3, "channels.width": [[0.0, 1e-3]]}
        )
    wrong = [(problem.key, problem.given) for problem in caught.value.problems]
    assert wrong == [
        ("liner.wall", '"-1 mm"'),
        ("channels.cuont", "3"),
        ("channels.width", '[["0 mm", "1 mm"]]'),
    ]
    assert case.design == load_case(write()).design
    none = case.with_values({"channels.roughness_Ra": None, "channels.roughness_sand_grain": 5e-6})
    assert none.design.channels.roughness == 5e-6


def test_schema_describes_every_key():
    schema = json_schema()
    json.dumps(schema)
    for name, keys in SECTIONS.items():
        properties = schema["$defs"][name.capitalize()]["properties"]
        assert set(properties) == set(keys), name
        for key, entry in properties.items():
            assert len(entry["description"]) > 10, f"{name}.{key}"
    wall = schema["$defs"]["Liner"]["properties"]["wall"]
    assert "length with unit" in wall["anyOf"][0]["x-kind"]
    assert schema["$defs"]["Closeout"]["properties"]["nickel"]["default"] == "3 mm"
    assert set(schema["required"]) >= {"case", "title", "chamber", "liner"}
    assert "limits" not in schema["required"]


def test_error_survives_pickling(tmp_path):
    with pytest.raises(CaseError) as caught:
        load_case(tmp_path / "none.toml")
    again = pickle.loads(pickle.dumps(caught.value))
    assert (str(again), again.problems) == (str(caught.value), caught.value.problems)


def test_plain_load_imports_neither_compiler_nor_fluids_nor_editor():
    code = (
        "import sys; from pathlib import Path; from regen.case.read import load_case;"
        f"load_case(Path({str(CASES / 'a-methane.toml')!r}));"
        "print([m for m in ('numba', 'CoolProp', 'cantera', 'matplotlib', 'tomlkit')"
        " if m in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"

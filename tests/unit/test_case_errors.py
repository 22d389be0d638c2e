"""Bad cases: each refused with words that say what, where, what is accepted and what to do."""

import os

import pytest

from regen.case.read import load_case, starter_text
from regen.errors import CaseError

DEPTH = 'depth = [["-150 mm", "1.6 mm"], ["0 mm", "2.0 mm"]]'
FRICTION = 'friction = "colebrook"'
WALL, GAS_SIDE = 'wall = "0.8 mm"', 'gas_side = "bartz"'


def film(*lines):
    """Return the replacement that gives the starter a film."""
    return "\n# [film]", "\n[film]\n" + "\n".join(lines) + "\n# [film]"


FROM_FILE = (DEPTH, 'depth = {file = "depth.csv"}')


@pytest.fixture
def refuse(tmp_path):
    """Return the error that a case text gives; files are written beside it."""

    def refuse_case(text, overrides=(), **files):
        for name, content in files.items():
            (tmp_path / f"{name}.csv").write_bytes(content)
        path = tmp_path / "case.toml"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        with pytest.raises(CaseError) as caught:
            load_case(path, overrides)
        return caught.value

    return refuse_case


def edited(*replacements):
    text = starter_text()
    for old, new in replacements:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


@pytest.fixture
def refused(refuse, recorded):
    """Return the key of the single problem of a case text, which is as it is recorded."""

    def key(text, overrides=(), **files):
        error = refuse(text, overrides, **files)
        assert str(error).startswith("case.toml: 1 problem\n")
        recorded(error.problems)
        (problem,) = error.problems
        return problem.key

    return key


NO_SHORTFALL = ("flow_shortfall = 0.10 ", "# flow_shortfall = 0.10 ")
MANIFOLDS = "[manifolds] "

MANIFOLD_PROBLEMS = {
    "shortfall beside manifolds": (
        ['inlet_bore = "16 mm"', "inlet_taps = 2"],
        "shop.flow_shortfall",
    ),
    "bore without taps": (['inlet_bore = "16 mm"'], "manifolds.inlet_taps"),
    "taps without bore": (["outlet_taps = 2"], "manifolds.outlet_bore"),
    "more taps than slots": (['inlet_bore = "16 mm"', "inlet_taps = 81"], "manifolds.inlet_taps"),
    "two rings and no angle": (
        ['inlet_bore = "16 mm"', "inlet_taps = 2", 'outlet_bore = "16 mm"', "outlet_taps = 2"],
        "manifolds.outlet_turn",
    ),
    "an angle to a ring that is not there": (
        ['inlet_bore = "16 mm"', "inlet_taps = 2", 'outlet_turn = "90 deg"'],
        "manifolds.outlet_turn",
    ),
    "recovery alone": (["recovery = 0.5"], "manifolds"),
    "recovery of an inlet ring that is not there": (
        ['outlet_bore = "16 mm"', "outlet_taps = 2", "recovery = 0.5"],
        "manifolds.recovery",
    ),
    "recovery above one": (
        ['inlet_bore = "16 mm"', "inlet_taps = 2", "recovery = 1.5"],
        "manifolds.recovery",
    ),
}


@pytest.mark.parametrize("name", MANIFOLD_PROBLEMS)
def test_bad_manifolds(refused, name):
    lines, key = MANIFOLD_PROBLEMS[name]
    section = (MANIFOLDS, "\n".join(["[manifolds]", *lines, "#"]))
    kept = [] if name == "shortfall beside manifolds" else [NO_SHORTFALL]
    assert refused(edited(section, *kept)) == key


@pytest.mark.parametrize(
    ("overrides", "circuits", "key"),
    [
        (["channels.passes=down and back", "manifolds.inlet_taps=41"], "", "manifolds.inlet_taps"),
        (['channels.count=[["-150 mm", 80], ["-20 mm", 40]]'], "", "manifolds"),
        (
            [],
            '[circuits.barrel]\ncooled_to = "-20 mm"\n[circuits.nozzle]\ncooled_from = "-20 mm"\n',
            "manifolds",
        ),
    ],
    ids=["down and back", "count changes", "circuits"],
)
def test_rings_serve_slots_from_ring_to_ring(refused, overrides, circuits, key):
    ring = ["manifolds.inlet_bore=16 mm", "manifolds.inlet_taps=2"]
    assert refused(edited(NO_SHORTFALL) + circuits, [*ring, *overrides]) == key


ONE_PROBLEM = {
    "number without a unit": (('pressure = "30 bar"', "pressure = 30"), "chamber.pressure"),
    "bare number along x": (('wall = "0.8 mm"', "wall = 0.8"), "liner.wall"),
    "wrong dimension": (('pressure = "30 bar"', 'pressure = "30 mm"'), "chamber.pressure"),
    "unknown unit": (('pressure = "30 bar"', 'pressure = "30 barr"'), "chamber.pressure"),
    "unit with a number": (
        ("mixture_ratio = 3.0", 'mixture_ratio = "3.0"'),
        "propellants.mixture_ratio",
    ),
    "negative": (('wall = "0.8 mm"', 'wall = "-0.8 mm"'), "liner.wall"),
    "zero": (('throat_diameter = "38 mm"', 'throat_diameter = "0 mm"'), "contour.throat_diameter"),
    "below absolute zero": (
        ('inlet_temperature = "120 K"', 'inlet_temperature = "-300 degC"'),
        "coolant.inlet_temperature",
    ),
    "absurd": (
        ('pressure = "30 bar"', 'pressure = "30 GPa"'.replace("GPa", "kPa")),
        "chamber.pressure",
    ),
    "wall of a metre": (('wall = "0.8 mm"', 'wall = "0.8 m"'), "liner.wall"),
    "infinite text": (
        ('throat_diameter = "38 mm"', 'throat_diameter = "inf mm"'),
        "contour.throat_diameter",
    ),
    "infinite number": (
        ("mixture_ratio = 3.0", "mixture_ratio = inf"),
        "propellants.mixture_ratio",
    ),
    "not a number": (
        ("contraction_ratio = 6.0", "contraction_ratio = nan"),
        "contour.contraction_ratio",
    ),
    "huge": (("count = 80", "count = 0x" + "f" * 6000), "channels.count"),
    "huge where a unit is due": (('wall = "0.8 mm"', "wall = 0x" + "f" * 6000), "liner.wall"),
    "huge flow": (('mass_flow = "fuel"', "mass_flow = 0x" + "f" * 6000), "coolant.mass_flow"),
    "fraction of a slot": (("count = 80", "count = 80.5"), "channels.count"),
    "too few slots": (("count = 80", "count = 1"), "channels.count"),
    "no slots": (("count = 80", "count = 0"), "channels.count"),
    "efficiency in percent": (
        ("combustion_efficiency = 0.95", "combustion_efficiency = 95"),
        "chamber.combustion_efficiency",
    ),
    "coolant pressure of a press": (
        ('inlet_pressure = "90 bar"', 'inlet_pressure = "900 bar"'),
        "coolant.inlet_pressure",
    ),
    "flag for a number": (("count = 80", "count = true"), "channels.count"),
    "table for a text": (('alloy = "Cu-Cr-Zr"', "alloy = {name = 3}"), "liner.alloy"),
    "list for a name": (('fuel = "methane"', "fuel = [1]"), "propellants.fuel"),
    "date for a length": (
        ('throat_diameter = "38 mm"', "throat_diameter = 2024-01-02"),
        "contour.throat_diameter",
    ),
    "blank text": (('alloy = "Cu-Cr-Zr"', 'alloy = "  "'), "liner.alloy"),
    "blank title": (('title = "Linnet bench chamber, 5 kN"', 'title = ""'), "title"),
    "no title": (('title = "Linnet bench chamber, 5 kN"', ""), "title"),
    "text for a flag": (
        ("# returns_to_injector = true", 'returns_to_injector = "yes"'),
        "coolant.returns_to_injector",
    ),
    "misspelt oxidizer": (('oxidizer = "oxygen"', 'oxidizer = "oxigen"'), "propellants.oxidizer"),
    "misspelt option": (('enters_at = "nozzle"', 'enters_at = "nozle"'), "coolant.enters_at"),
    "other case of letters": (('fuel = "methane"', 'fuel = "Methane"'), "propellants.fuel"),
    "unknown key": (("count = 80", "count = 80\nribs = 3"), "channels.ribs"),
    "misspelt key": (('pressure_at = "injector"', 'presure_at = "injector"'), "chamber.presure_at"),
    "key of another section": (
        ("[chamber]", "[chamber]\ncontraction_ratio = 3.0"),
        "chamber.contraction_ratio",
    ),
    "key in no section": (("[propellants]", 'wall = "1 mm"\n[propellants]'), "wall"),
    "unknown section": (("[shop]", "[shopp]\n[shop]"), "[shopp]"),
    "instruments": (("[shop]", "[instruments]\n[shop]"), "[instruments]"),
    "hydrogen peroxide": (('fluid = "methane"', 'fluid = "hydrogen-peroxide"'), "coolant.fluid"),
    "nitrous oxide": (('fluid = "methane"', 'fluid = "nitrous-oxide"'), "coolant.fluid"),
    "ammonia": (('fluid = "methane"', 'fluid = "ammonia"'), "coolant.fluid"),
    "kerosene": (('fluid = "methane"', 'fluid = "RP-1"'), "coolant.fluid"),
    "share as a number": (('mass_flow = "fuel"', "mass_flow = 0.8"), "coolant.mass_flow"),
    "share above one": (('mass_flow = "fuel"', 'mass_flow = "1.2 fuel"'), "coolant.mass_flow"),
    "share of another fluid": (('fluid = "methane"', 'fluid = "water"'), "coolant.mass_flow"),
    "both pressures": (
        ('inlet_pressure = "90 bar"', 'inlet_pressure = "90 bar"\noutlet_pressure = "60 bar"'),
        "coolant",
    ),
    "no pressure": (('inlet_pressure = "90 bar"', ""), "coolant"),
    "throat and thrust": (
        ('throat_diameter = "38 mm"', 'throat_diameter = "38 mm"\nthrust = "5 kN"'),
        "contour",
    ),
    "no barrel": (('characteristic_length = "0.75 m"', ""), "contour"),
    "no roughness": (('roughness_Ra = "0.8 um"', ""), "channels"),
    "two ends": (
        ("count = 80", 'count = 80\ncooled_to = "60 mm"\ncooled_to_area_ratio = 4.0'),
        "channels",
    ),
    "ends in the wrong order": (
        ("count = 80", 'count = 80\ncooled_from = "50 mm"\ncooled_to = "20 mm"'),
        "channels.cooled_to",
    ),
    "end beyond the nozzle": (
        ("count = 80", "count = 80\ncooled_to_area_ratio = 9.0"),
        "channels.cooled_to_area_ratio",
    ),
    "key of a bell with a cone": (
        ('nozzle = "cone"', 'nozzle = "cone"\nbell_exit_angle = "9 deg"'),
        "contour.bell_exit_angle",
    ),
    "contraction ratio left out": (("contraction_ratio = 6.0", ""), "contour.contraction_ratio"),
    "concentration of oxygen": (
        ("mixture_ratio = 3.0", "mixture_ratio = 3.0\noxidizer_concentration = 0.9"),
        "propellants.oxidizer_concentration",
    ),
    "water in methane": (
        ("mixture_ratio = 3.0", "mixture_ratio = 3.0\nfuel_water = 0.2"),
        "propellants.fuel_water",
    ),
    "more water than fuel": (
        ("mixture_ratio = 3.0", "mixture_ratio = 3.0\nfuel_water = 0.6"),
        "propellants.fuel_water",
    ),
    "isopropanol in the slots": (('fluid = "methane"', 'fluid = "isopropanol"'), "coolant.fluid"),
    "oxidizer too warm to be liquid": (
        ("mixture_ratio = 3.0", 'mixture_ratio = 3.0\noxidizer_temperature = "20 degC"'),
        "propellants.oxidizer_temperature",
    ),
    "fuel that is ice": (
        ("mixture_ratio = 3.0", 'mixture_ratio = 3.0\nfuel_temperature = "80 K"'),
        "propellants.fuel_temperature",
    ),
    "peroxide too hot": (
        (
            'oxidizer = "oxygen"',
            'oxidizer = "hydrogen-peroxide"\noxidizer_temperature = "400 K"',
        ),
        "propellants.oxidizer_temperature",
    ),
    "no pressure asked for": (
        ("injector_drop_fraction = 0.2", "injector_drop_fraction = 0"),
        "limits.injector_drop_fraction",
    ),
    "tolerance wider than the slot": (
        ('width_tolerance = "0.03 mm"', 'width_tolerance = "0.9 mm"'),
        "shop.width_tolerance",
    ),
    "no condition": (('condition = "solution-annealed-aged"', ""), "liner.condition"),
    "unknown condition": (
        ('condition = "solution-annealed-aged"', 'condition = "soft"'),
        "liner.condition",
    ),
    "any condition": (
        ('condition = "solution-annealed-aged"', 'condition = "any"'),
        "liner.condition",
    ),
    "unknown alloy": (('alloy = "Cu-Cr-Zr"', 'alloy = "Cu-Cr-Zz"'), "liner.alloy"),
    "unknown correlation": (
        ('# gas_side = "bartz"', 'gas_side = "bartz_entalpy"'),
        "models.gas_side",
    ),
    "coating without its conductivity": ((WALL, f'{WALL}\ncoating = "0.1 mm"'), "liner.coating"),
    "conductivity without a coating": (
        (WALL, f'{WALL}\ncoating_conductivity = "1.5 W/(m K)"'),
        "liner.coating_conductivity",
    ),
    "conductivity of another unit": (
        (WALL, f'{WALL}\ncoating = "0.1 mm"\ncoating_conductivity = "1.5 W/m"'),
        "liner.coating_conductivity",
    ),
    "hydrogen form for methane": (
        (FRICTION, f'coolant_side = "hess_kunz"\n{FRICTION}'),
        "models.coolant_side",
    ),
    "oxygen form for methane": (
        (FRICTION, f'coolant_side = "spencer_rousar"\n{FRICTION}'),
        "models.coolant_side",
    ),
    "kerosene form for methane": (
        (FRICTION, f'coolant_side = "hines_wolf"\n{FRICTION}'),
        "models.coolant_side",
    ),
    "boiling form of water for methane": (
        (FRICTION, f'boiling = "thom"\n{FRICTION}'),
        "models.boiling",
    ),
    "basis beside a name": (
        (FRICTION, f'basis = "best estimate"\ngas_side = "bartz"\n{FRICTION}'),
        "models",
    ),
    "unknown basis": ((FRICTION, f'basis = "optimistic"\n{FRICTION}'), "models.basis"),
    "deposit as a thickness": (
        (GAS_SIDE, f'{GAS_SIDE}\ndeposit_resistance = "0.1 mm"'),
        "models.deposit_resistance",
    ),
    "deposit below nothing": (
        (GAS_SIDE, f'{GAS_SIDE}\ndeposit_resistance = "-1e-5 m2 K/W"'),
        "models.deposit_resistance",
    ),
    "mixing factor with a unit": (
        (GAS_SIDE, f'{GAS_SIDE}\nmixing_factor = "0.5 mm"'),
        "models.mixing_factor",
    ),
    "mixing factor with a unit in a pair": (
        (GAS_SIDE, f'{GAS_SIDE}\nmixing_factor = [["-150 mm", "0.5"], ["0 mm", 1.0]]'),
        "models.mixing_factor[pair 1, value]",
    ),
    "radiation as a flag": ((GAS_SIDE, f"{GAS_SIDE}\nradiation = true"), "models.radiation"),
    "freezing below the gas data": (
        (GAS_SIDE, f'{GAS_SIDE}\nfreeze_temperature = "100 K"'),
        "models.freeze_temperature",
    ),
    "film of nothing": (film('mass_flow = "0 kg/s"'), "film.mass_flow"),
    "film of no share": (film('mass_flow = "0 fuel"'), "film.mass_flow"),
    "film of more than the fuel": (film('mass_flow = "1.2 fuel"'), "film.mass_flow"),
    "film without its flow": (film('state = "liquid"'), "film.mass_flow"),
    "film as a number": (film("mass_flow = 0.08"), "film.mass_flow"),
    "film of isopropanol": (film('fluid = "isopropanol"', 'mass_flow = "0.05 kg/s"'), "film.fluid"),
    "film of oxidizer": (film('fluid = "oxygen"', 'mass_flow = "0.05 kg/s"'), "film.fluid"),
    "share of the fuel of another film": (
        film('fluid = "water"', 'mass_flow = "0.08 fuel"'),
        "film.mass_flow",
    ),
    "film that is ice": (
        film('mass_flow = "0.08 fuel"', 'temperature = "80 K"'),
        "film.temperature",
    ),
    "film of kerosene vapour": (
        film('fluid = "n-dodecane"', 'mass_flow = "0.05 kg/s"', 'state = "gas"'),
        "film.state",
    ),
    "slot without its height": (
        film('model = "slot"', 'state = "gas"', 'mass_flow = "0.08 fuel"'),
        "film.slot_height",
    ),
    "slot for a liquid": (
        film('model = "slot"', 'mass_flow = "0.08 fuel"', 'slot_height = "0.5 mm"'),
        "film.state",
    ),
    "height without the slot": (
        film('mass_flow = "0.08 fuel"', 'slot_height = "0.5 mm"'),
        "film.slot_height",
    ),
    "entrainment of a slot": (
        film(
            *('model = "slot"', 'state = "gas"', 'mass_flow = "0.08 fuel"'),
            *('slot_height = "0.5 mm"', "entrainment = 0.1"),
        ),
        "film.entrainment",
    ),
    "layer ratio without its model": (
        film('mass_flow = "0.08 fuel"', "layer_mixture_ratio = 1.5"),
        "film.layer_mixture_ratio",
    ),
    "layer without its ratio": (film('model = "layer mixture ratio"'), "film.layer_mixture_ratio"),
    "layer with a flow": (
        film(
            *('model = "layer mixture ratio"', "layer_mixture_ratio = 1.5"),
            'mass_flow = "0.08 fuel"',
        ),
        "film.mass_flow",
    ),
    "unknown film model": (film('model = "slots"', 'mass_flow = "0.08 fuel"'), "film.model"),
    "one pair": ((DEPTH, 'depth = [["0 mm", "2 mm"]]'), "channels.depth"),
    "falling pairs": ((DEPTH, 'depth = [["0 mm", "2 mm"], ["-1 mm", "2 mm"]]'), "channels.depth"),
    "doubled pairs": ((DEPTH, 'depth = [["0 mm", "2 mm"], ["0 mm", "1 mm"]]'), "channels.depth"),
    "triple": (
        (DEPTH, 'depth = [["0 mm", "2 mm"], ["1 mm", "2 mm", "3 mm"]]'),
        "channels.depth[pair 2]",
    ),
    "no unit in a pair": (
        (DEPTH, 'depth = [["0 mm", "2 mm"], [1, "2 mm"]]'),
        "channels.depth[pair 2, x]",
    ),
    "absurd in a pair": (
        (DEPTH, 'depth = [["0 mm", "2 mm"], ["1 mm", "2 m"]]'),
        "channels.depth[pair 2, value]",
    ),
    "table of another form": ((DEPTH, 'depth = {path = "x.csv"}'), "channels.depth"),
    "absent file": (FROM_FILE, "channels.depth"),
    "file that is a folder": ((DEPTH, 'depth = {file = "."}'), "channels.depth"),
    "device": ((DEPTH, 'depth = {file = "/dev/zero"}'), "channels.depth"),
    "file name with a null": ((DEPTH, 'depth = {file = "a\\u0000"}'), "channels.depth"),
    "very long file name": ((DEPTH, 'depth = {file = "' + "a" * 5000 + '"}'), "channels.depth"),
}


@pytest.mark.parametrize("name", ONE_PROBLEM)
def test_one_problem(refused, name):
    *replacement, key = ONE_PROBLEM[name]
    assert refused(edited(*replacement)) == key


TABLES = {
    "ragged row": b"x [mm], depth [mm]\n-1, 2\n0\n",
    "half a row": b"x [mm], depth [mm]\n-1, 2\n0, ",
    "half a number": b"x [mm], depth [mm]\n-1, 2\n0, 2.",
    "half an exponent": b"x [mm], depth [mm]\n-1, 2\n0, 2e",
    "words": b"x [mm], depth [mm]\n-1, 2\n0, deep\n",
    "not finite": b"x [mm], depth [mm]\n-1, 2\n0, inf\n",
    "too large": b"x [mm], depth [mm]\n-1, 2\n0, 1e999\n",
    "decimal commas": b"x [mm]; depth [mm]\n-1; 2,0\n0; 2\n",
    "x twice": b"x [mm], depth [mm]\n0, 2\n0, 3\n",
    "x falls": b"# a\nx [mm], depth [mm]\n0, 2\n-1, 3\n",
    "one row": b"x [mm], depth [mm]\n0, 2\n",
    "no row": b"x [mm], depth [mm]\n",
    "empty": b"",
    "no header": b"0, 2\n1, 2\n",
    "no units": b"x, depth\n0, 2\n1, 2\n",
    "wrong unit": b"x [mm], depth [K]\n0, 2\n1, 2\n",
    "unknown unit": b"x [mm], depth [mmm]\n0, 2\n1, 2\n",
    "other column": b"x [mm], dept [mm]\n0, 2\n1, 2\n",
    "absurd value": b"x [mm], depth [mm]\n0, 2\n1, 2000\n",
    "bytes": b"x [mm], depth [mm]\n0, 2\n\xff\xfe, 2\n",
    "two bytes a letter": "x [mm]".encode("utf-16"),
    "a doubled column": b"x [mm], depth [mm], depth [mm]\n0, 2, 3\n1, 2, 3\n",
    "half the header without unit": b"x [mm], depth\n0, 2\n1, 2\n",
}


@pytest.mark.parametrize("content", TABLES.values(), ids=TABLES.keys())
def test_bad_table(refused, content):
    assert refused(edited(FROM_FILE), depth=content) == "channels.depth"


@pytest.mark.parametrize(
    "content",
    [
        b"x [mm], mixing_factor [mm]\n-1, 0.5\n0, 1\n",
        b"x [mm], mixing_factor [-]\n-1, 0.5\n0, 9\n",
        b"x [mm], mixing [-]\n-1, 0.5\n0, 1\n",
    ],
    ids=["unit", "value", "column"],
)
def test_bad_table_of_plain_numbers(refused, content):
    text = edited((GAS_SIDE, f'{GAS_SIDE}\nmixing_factor = {{file = "mixing.csv"}}'))
    assert refused(text, mixing=content) == "models.mixing_factor"


def test_an_empty_film_section_asks_for_its_flow(refused):
    assert refused(edited(film())) == "film.mass_flow"


def test_large_table(refused):
    table = b"x [mm], depth [mm]\n" + b"#" * 5_000_000
    assert refused(edited(FROM_FILE), depth=table) == "channels.depth"


def contour_text():
    head, _, tail = starter_text().partition("[contour]")
    return head + '[contour]\nprofile = "wall.csv"\n\n[liner]' + tail.partition("[liner]")[2]


CONTOURS = {
    "a radius of nothing": "x [mm], r [mm]\n-9, 20\n0, 0\n9, 20\n",
    "wrong unit": "x [m], r [m]\n-9, 20\n0, 19\n9, 20\n",
    "by diameter": "x [mm], d [mm]\n-9, 20\n0, 19\n9, 20\n",
    # ratios the rules would refuse
    "no barrel": "x [mm], r [mm]\n-99, 19\n0, 19\n99, 30\n",
    "huge barrel": "x [mm], r [mm]\n-99, 150\n0, 19\n99, 30\n",
    "no nozzle": "x [mm], r [mm]\n-99, 30\n0, 19\n99, 19\n",
    "huge nozzle": "x [mm], r [mm]\n-99, 30\n0, 19\n99, 600\n",
}


@pytest.mark.parametrize("name", CONTOURS)
def test_bad_contour(refused, name):
    assert refused(contour_text(), wall=CONTOURS[name].encode()) == "contour.profile"


def test_profile_beside_rules(refused):
    text = edited(("[contour]  ", '[contour]\nprofile = "wall.csv"\n#'))
    rows = b"x [mm], r [mm]\n-9, 30\n0, 19\n9, 30\n"
    assert refused(text, wall=rows) == "contour.profile"


def test_bell_needs_its_angles_and_not_the_cone_s(refuse, recorded):
    error = refuse(edited(('nozzle = "cone"', 'nozzle = "bell"')))
    recorded(error.problems)
    keys = [problem.key for problem in error.problems]
    assert keys == [
        "contour.bell_start_angle",
        "contour.bell_exit_angle",
        "contour.divergent_half_angle",
    ]


def test_a_liquid_stored_as_a_gas(refuse, recorded):
    error = refuse(edited(('fuel = "methane"', 'fuel = "RP-1"\nfuel_state = "gas"')))
    recorded(error.problems)
    keys = [problem.key for problem in error.problems]
    assert keys == ["propellants.fuel_state", "coolant.mass_flow"]


def test_a_correlation_is_not_judged_for_a_coolant_that_is_refused(refused):
    overrides = ['models.coolant_side="taylor"', "coolant.inlet_temperature=5"]
    assert refused(edited(), overrides) == "coolant.inlet_temperature"


def test_water_cannot_return(refused):
    water = ('fluid = "methane"', 'fluid = "water"')
    flow = ('mass_flow = "fuel"', 'mass_flow = "0.6 kg/s"\nreturns_to_injector = true')
    assert refused(edited(water, flow)) == "coolant.returns_to_injector"


FILES = {
    "empty": b"",
    "blank": b" \n\n",
    "not UTF-8": b"case = 1\ntitle = '\xff'\n",
    "two bytes a letter": "case = 1".encode("utf-16"),
    "syntax": b"case = 1\ntitle = \n",
    "no quotes": b"case = 1\ntitle = Linnet\n",
    "key twice": b"case = 1\ncase = 1\n",
    "section twice": b"case = 1\n[liner]\n[liner]\n",
    "deeply nested": b"case = 1\na = " + b"[" * 50_000,
    "endless digits": b"case = 1\na = " + b"9" * 5000,
    "null byte": b"case = 1\x00\n",
    "too large": b"#" * 1_000_001,
    "no version": b"title = 'x'\n",
    "next version": b"case = 2\n",
    "version in quotes": b'case = "1"\n',
    "version as a flag": b"case = true\n",
}


@pytest.mark.parametrize("content", FILES.values(), ids=FILES.keys())
def test_bad_file(refused, content):
    assert refused(content) in ("case file", "TOML", "case")


@pytest.mark.parametrize("name", ["none.toml", "", "a\0b", "a" * 5000])
def test_no_file(tmp_path, name):
    with pytest.raises(CaseError, match=r"there is no file|is a folder|cannot be read"):
        load_case(tmp_path / name)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_pipe_is_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(CaseError, match="not a plain file"):
        load_case(tmp_path / "pipe")


def test_sections_missing(refuse):
    error = refuse('case = 1\ntitle = "x"\n')
    assert [problem.key for problem in error.problems] == [
        f"[{name}]"
        for name in ("propellants", "chamber", "contour", "liner", "channels", "coolant")
    ]


@pytest.mark.parametrize("given", ["3", '"x"', "[1]", "true"])
def test_section_that_is_none(refused, given):
    text = edited(("[propellants]", f"shop = {given}\n[propellants]")).partition("[shop]")[0]
    assert refused(text) == "shop"


def test_list_of_sections(refused):
    assert refused(edited(("[shop]", "[[shop]]"))) == "shop"


OVERRIDES = {
    "no assignment": ("channels.count", "--set"),
    "no value": ("channels.count=", "--set"),
    "no key": ("=3", "--set"),
    "unknown key": ("channels.cuont=96", "--set channels.cuont"),
    "unknown section": ("chanels.count=96", "--set chanels.count"),
    "key alone": ("count=96", "--set count"),
    "misspelt title": ("titel=x", "--set titel"),
    "section alone": ("channels={}", "--set channels"),
    "deeper path": ("channels.width.file=x", "--set channels.width.file"),
    "version": ("case=2", "--set case"),
    "number without a unit": ("chamber.pressure=40", "chamber.pressure"),
    "two lines": ("channels.count=3\nx=4", "channels.count"),
    "nothing to evaluate": ("channels.count=" + "[" * 5000, "channels.count"),
}


@pytest.mark.parametrize("name", OVERRIDES)
def test_bad_override(refused, name):
    given, key = OVERRIDES[name]
    assert refused(starter_text(), [given]) == key


def test_override_below_what_is_no_section(refused):
    text = edited(("[propellants]", "shop = 3\n[propellants]")).partition("[shop]")[0]
    assert refused(text, ["shop.streak=0.1"]) == "shop"


def test_all_errors_at_once(refuse):
    error = refuse(
        edited(
            ('oxidizer = "oxygen"', 'oxidizer = "oxigen"'),
            ('pressure = "30 bar"', "pressure = 30"),
            ('wall = "0.8 mm"', 'wall = [["0 mm", "0.8 K"], [1, "0.8 mm"]]'),
            FROM_FILE,
            ('inlet_pressure = "90 bar"', ""),
            ("streak = 0.20", "streak = 0.20\nstreaks = 2"),
            ('# gas_side = "bartz"', 'gas_side = "none"'),
        ),
        ["channels.cuont=3"],
        depth=b"x [mm], depth [mm]\n0, 2\n0, 2\n",
    )
    assert [problem.key for problem in error.problems] == [
        "--set channels.cuont",
        "propellants.oxidizer",
        "chamber.pressure",
        "liner.wall[pair 1, value]",
        "liner.wall[pair 2, x]",
        "channels.depth",
        "coolant",
        "models.gas_side",
        "shop.streaks",
    ]
    assert str(error).startswith("case.toml: 9 problems\n\n")
    assert all(str(problem) in str(error) for problem in error.problems)


def test_a_film_of_the_fuel_needs_its_equation_of_state(refused):
    film_of_fuel = film('mass_flow = "0.08 fuel"')
    coolant = (
        ('fluid = "methane"', 'fluid = "water"'),
        ('mass_flow = "fuel"', 'mass_flow = "1 kg/s"'),
    )
    fuel = ('fuel = "methane"', 'fuel = "isopropanol"')
    assert refused(edited(film_of_fuel, fuel, *coolant)) == "film.fluid"

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


def only(error):
    """Return the text of the single problem."""
    assert len(error.problems) == 1, str(error)
    assert str(error).startswith("case.toml: 1 problem\n")
    return str(error.problems[0])


NO_SHORTFALL = ("flow_shortfall = 0.10 ", "# flow_shortfall = 0.10 ")
MANIFOLDS = "[manifolds] "

MANIFOLD_PROBLEMS = {
    "shortfall beside manifolds": (
        ['inlet_bore = "16 mm"', "inlet_taps = 2"],
        ["shop.flow_shortfall = 0.1", "[manifolds] is given", "one of the two"],
    ),
    "bore without taps": (
        ['inlet_bore = "16 mm"'],
        ["manifolds.inlet_taps: missing; inlet_bore is given"],
    ),
    "taps without bore": (
        ["outlet_taps = 2"],
        ["manifolds.outlet_bore: missing; outlet_taps is given"],
    ),
    "more taps than slots": (
        ['inlet_bore = "16 mm"', "inlet_taps = 81"],
        ["manifolds.inlet_taps = 81", "only 80 slots begin or end at the ring"],
    ),
    "two rings and no angle": (
        ['inlet_bore = "16 mm"', "inlet_taps = 2", 'outlet_bore = "16 mm"', "outlet_taps = 2"],
        ["manifolds.outlet_turn: missing", "which slots are starved"],
    ),
    "an angle to a ring that is not there": (
        ['inlet_bore = "16 mm"', "inlet_taps = 2", 'outlet_turn = "90 deg"'],
        ["manifolds.outlet_turn: it has no effect with one ring", "remove it"],
    ),
    "recovery alone": (
        ["recovery = 0.5"],
        ["manifolds: recovery is given without a ring", "inlet_bore with inlet_taps"],
    ),
    "recovery of an inlet ring that is not there": (
        ['outlet_bore = "16 mm"', "outlet_taps = 2", "recovery = 0.5"],
        ["manifolds.recovery: it has no effect without an inlet ring"],
    ),
    "recovery above one": (
        ['inlet_bore = "16 mm"', "inlet_taps = 2", "recovery = 1.5"],
        ["manifolds.recovery = 1.5", "0 to 1"],
    ),
}


@pytest.mark.parametrize(
    ("name", "lines", "words"), [(k, *v) for k, v in MANIFOLD_PROBLEMS.items()]
)
def test_bad_manifolds(refuse, name, lines, words):
    section = (MANIFOLDS, "\n".join(["[manifolds]", *lines, "#"]))
    kept = [] if name == "shortfall beside manifolds" else [NO_SHORTFALL]
    text = only(refuse(edited(section, *kept)))
    for word in words:
        assert word in text


@pytest.mark.parametrize(
    ("overrides", "words"),
    [
        (
            ["channels.passes=down and back", "manifolds.inlet_taps=41"],
            ["manifolds.inlet_taps = 41", "only 40 slots begin or end at the ring"],
        ),
        (
            ['channels.count=[["-150 mm", 80], ["-20 mm", 40]]'],
            ["manifolds: the slots change in number", "shop.flow_shortfall"],
        ),
        (
            ["circuits.barrel.cooled_to=-20 mm", "circuits.throat.cooled_from=-20 mm"],
            ["manifolds: the chamber has 2 circuits", "shop.flow_shortfall"],
        ),
    ],
    ids=["down and back", "count changes", "circuits"],
)
def test_rings_serve_slots_from_ring_to_ring(refuse, overrides, words):
    text = edited(NO_SHORTFALL)
    if "circuits" in words[0]:  # an override cannot name a new circuit
        text += '[circuits.barrel]\ncooled_to = "-20 mm"\n[circuits.nozzle]\n'
        text += 'cooled_from = "-20 mm"\n'
        overrides = []
    ring = ["manifolds.inlet_bore=16 mm", "manifolds.inlet_taps=2"]
    text = only(refuse(text, [*ring, *overrides]))
    for word in words:
        assert word in text


ONE_PROBLEM = {
    # bare numbers, units, dimensions
    "number without a unit": (
        ('pressure = "30 bar"', "pressure = 30"),
        ["chamber.pressure = 30", "number without a unit", '"9.5 MPa"', '"30 bar"'],
    ),
    "bare number along x": (
        ('wall = "0.8 mm"', "wall = 0.8"),
        ["liner.wall = 0.8", "number without a unit", "pairs [x, value]", '"0.8 mm"'],
    ),
    "wrong dimension": (
        ('pressure = "30 bar"', 'pressure = "30 mm"'),
        ['chamber.pressure = "30 mm"', "unit of length", "not of pressure", '"95 bar"'],
    ),
    "unknown unit": (
        ('pressure = "30 bar"', 'pressure = "30 barr"'),
        ["chamber.pressure", 'unknown unit "barr"', 'did you mean "bar"?'],
    ),
    "unit with a number": (
        ("mixture_ratio = 3.0", 'mixture_ratio = "3.0"'),
        ['propellants.mixture_ratio = "3.0"', "text in place of a number", "drop the quotes"],
    ),
    # absurd, negative, zero, not finite
    "negative": (
        ('wall = "0.8 mm"', 'wall = "-0.8 mm"'),
        ['liner.wall = "-0.8 mm"', "must be above zero", "0.05 mm to 20 mm"],
    ),
    "zero": (
        ('throat_diameter = "38 mm"', 'throat_diameter = "0 mm"'),
        ['contour.throat_diameter = "0 mm"', "must be above zero"],
    ),
    "below absolute zero": (
        ('inlet_temperature = "120 K"', 'inlet_temperature = "-300 degC"'),
        ['coolant.inlet_temperature = "-300 degC"', "must be above zero", "10 K to 1000 K"],
    ),
    "absurd": (
        ('pressure = "30 bar"', 'pressure = "30 GPa"'.replace("GPa", "kPa")),
        ['chamber.pressure = "30 kPa"', "out of range", "0.2 MPa to 40 MPa"],
    ),
    "wall of a metre": (
        ('wall = "0.8 mm"', 'wall = "0.8 m"'),
        ['liner.wall = "0.8 m"', "out of range"],
    ),
    "infinite text": (
        ('throat_diameter = "38 mm"', 'throat_diameter = "inf mm"'),
        ["contour.throat_diameter", "must be finite"],
    ),
    "infinite number": (
        ("mixture_ratio = 3.0", "mixture_ratio = inf"),
        ["propellants.mixture_ratio = inf", "must be finite", "0.05 to 60"],
    ),
    "not a number": (
        ("contraction_ratio = 6.0", "contraction_ratio = nan"),
        ["contour.contraction_ratio = nan", "must be finite"],
    ),
    "huge": (
        ("count = 80", "count = 0x" + "f" * 6000),
        ["channels.count", "more than 60 digits", "4 to 2000"],
    ),
    "huge where a unit is due": (
        ('wall = "0.8 mm"', "wall = 0x" + "f" * 6000),
        ["liner.wall", "number without a unit", "with its unit"],
    ),
    "huge flow": (
        ('mass_flow = "fuel"', "mass_flow = 0x" + "f" * 6000),
        ["coolant.mass_flow", "number without a unit"],
    ),
    "fraction of a slot": (
        ("count = 80", "count = 80.5"),
        ["channels.count = 80.5", "not a whole number", "4 to 2000"],
    ),
    "too few slots": (("count = 80", "count = 1"), ["channels.count = 1", "4 to 2000"]),
    "no slots": (("count = 80", "count = 0"), ["channels.count = 0", "4 to 2000"]),
    "efficiency in percent": (
        ("combustion_efficiency = 0.95", "combustion_efficiency = 95"),
        ["chamber.combustion_efficiency = 95", "0.3 to 1"],
    ),
    "coolant pressure of a press": (
        ('inlet_pressure = "90 bar"', 'inlet_pressure = "900 bar"'),
        ["coolant.inlet_pressure", "to 400 bar"],
    ),
    # types
    "flag for a number": (("count = 80", "count = true"), ["count = true", "not a number"]),
    "table for a text": (
        ('alloy = "Cu-Cr-Zr"', "alloy = {name = 3}"),
        ["liner.alloy = {name = 3}", "not a text"],
    ),
    "list for a name": (('fuel = "methane"', "fuel = [1]"), ["propellants.fuel = [1]", "quotes"]),
    "date for a length": (
        ('throat_diameter = "38 mm"', "throat_diameter = 2024-01-02"),
        ["contour.throat_diameter = 2024-01-02", "not a length"],
    ),
    "blank text": (('alloy = "Cu-Cr-Zr"', 'alloy = "  "'), ["liner.alloy", "blank"]),
    "blank title": (('title = "Linnet bench chamber, 5 kN"', 'title = ""'), ["title", "a text"]),
    "no title": (('title = "Linnet bench chamber, 5 kN"', ""), ["title: required key missing"]),
    "text for a flag": (
        ("# returns_to_injector = true", 'returns_to_injector = "yes"'),
        ["coolant.returns_to_injector", "neither true nor false"],
    ),
    # names
    "misspelt oxidizer": (
        ('oxidizer = "oxygen"', 'oxidizer = "oxigen"'),
        ['propellants.oxidizer = "oxigen"', 'did you mean "oxygen"?', '"nitrous-oxide"'],
    ),
    "misspelt option": (
        ('enters_at = "nozzle"', 'enters_at = "nozle"'),
        ["coolant.enters_at", 'did you mean "nozzle"?', '"injector"'],
    ),
    "other case of letters": (
        ('fuel = "methane"', 'fuel = "Methane"'),
        ["propellants.fuel", 'did you mean "methane"?'],
    ),
    "unknown key": (
        ("count = 80", "count = 80\nribs = 3"),
        ["channels.ribs = 3", "unknown key", "roughness_Ra"],
    ),
    "misspelt key": (
        ('pressure_at = "injector"', 'presure_at = "injector"'),
        ["chamber.presure_at", 'did you mean "pressure_at"?'],
    ),
    "key of another section": (
        ("[chamber]", "[chamber]\ncontraction_ratio = 3.0"),
        ["chamber.contraction_ratio", "put it below [contour]"],
    ),
    "key in no section": (
        ("[propellants]", 'wall = "1 mm"\n[propellants]'),
        ["wall: unknown section or key", "put it below [liner]"],
    ),
    "unknown section": (
        ("[shop]", "[shopp]\n[shop]"),
        ["[shopp]", "unknown section", 'did you mean "shop"?'],
    ),
    "instruments": (("[shop]", "[instruments]\n[shop]"), ["[instruments]", "does not read it"]),
    "section of another kind": (
        ("[propellants]", "shop = 3\n[propellants]"),
        None,  # the starter has [shop] too: given twice
    ),
    # coolants
    "hydrogen peroxide": (
        ('fluid = "methane"', 'fluid = "hydrogen-peroxide"'),
        ["coolant.fluid", "decomposes in hot copper"],
    ),
    "nitrous oxide": (
        ('fluid = "methane"', 'fluid = "nitrous-oxide"'),
        ["coolant.fluid", "decomposes in hot copper"],
    ),
    "ammonia": (
        ('fluid = "methane"', 'fluid = "ammonia"'),
        ["coolant.fluid", "attacks copper"],
    ),
    "kerosene": (
        ('fluid = "methane"', 'fluid = "RP-1"'),
        ["coolant.fluid", "n-dodecane is the stand-in", "13 % too high"],
    ),
    "share as a number": (
        ('mass_flow = "fuel"', "mass_flow = 0.8"),
        ["coolant.mass_flow = 0.8", "number without a unit", '"0.8 fuel"', '"0.48 kg/s"'],
    ),
    "share above one": (
        ('mass_flow = "fuel"', 'mass_flow = "1.2 fuel"'),
        ["coolant.mass_flow", "outside 0 to 1"],
    ),
    "share of another fluid": (
        ('fluid = "methane"', 'fluid = "water"'),
        ["coolant.mass_flow", "the coolant is water and the fuel methane", "kg/s"],
    ),
    # alternatives
    "both pressures": (
        ('inlet_pressure = "90 bar"', 'inlet_pressure = "90 bar"\noutlet_pressure = "60 bar"'),
        ["coolant: inlet_pressure and outlet_pressure are both given", "remove one"],
    ),
    "no pressure": (
        ('inlet_pressure = "90 bar"', ""),
        ["coolant: neither inlet_pressure nor outlet_pressure", "add one"],
    ),
    "throat and thrust": (
        ('throat_diameter = "38 mm"', 'throat_diameter = "38 mm"\nthrust = "5 kN"'),
        ["contour: throat_diameter and thrust are both given"],
    ),
    "no barrel": (
        ('characteristic_length = "0.75 m"', ""),
        ["contour: neither barrel_length nor characteristic_length"],
    ),
    "no roughness": (
        ('roughness_Ra = "0.8 um"', ""),
        ["channels: neither roughness_Ra nor roughness_sand_grain"],
    ),
    "two ends": (
        ("count = 80", 'count = 80\ncooled_to = "60 mm"\ncooled_to_area_ratio = 4.0'),
        ["channels: cooled_to and cooled_to_area_ratio are both given"],
    ),
    "ends in the wrong order": (
        ("count = 80", 'count = 80\ncooled_from = "50 mm"\ncooled_to = "20 mm"'),
        ['channels.cooled_to = "20 mm"', "at or before cooled_from, 50 mm", "throat at 0"],
    ),
    "end beyond the nozzle": (
        ("count = 80", "count = 80\ncooled_to_area_ratio = 9.0"),
        ["channels.cooled_to_area_ratio = 9", "the nozzle ends at area ratio 5"],
    ),
    "profile beside rules": (
        ("[contour]  ", '[contour]\nprofile = "absent.csv"\n#'),
        None,  # the file is absent too
    ),
    "key of a bell with a cone": (
        ('nozzle = "cone"', 'nozzle = "cone"\nbell_exit_angle = "9 deg"'),
        ["contour.bell_exit_angle", 'no effect with a nozzle of shape "cone"'],
    ),
    "contraction ratio left out": (
        ("contraction_ratio = 6.0", ""),
        ["contour.contraction_ratio: missing", "profile"],
    ),
    "concentration of oxygen": (
        ("mixture_ratio = 3.0", "mixture_ratio = 3.0\noxidizer_concentration = 0.9"),
        ["propellants.oxidizer_concentration = 0.9", "no effect with oxygen"],
    ),
    "water in methane": (
        ("mixture_ratio = 3.0", "mixture_ratio = 3.0\nfuel_water = 0.2"),
        ["propellants.fuel_water = 0.2", "no effect with methane", "only with the liquids ethanol"],
    ),
    "more water than fuel": (
        ("mixture_ratio = 3.0", "mixture_ratio = 3.0\nfuel_water = 0.6"),
        ["propellants.fuel_water = 0.6", "from 0 to 0.5"],
    ),
    "isopropanol in the slots": (
        ('fluid = "methane"', 'fluid = "isopropanol"'),
        ["coolant.fluid", "its properties are not built in; bring them", '"ethanol", "propane"'],
    ),
    "oxidizer too warm to be liquid": (
        ("mixture_ratio = 3.0", 'mixture_ratio = 3.0\noxidizer_temperature = "20 degC"'),
        ['propellants.oxidizer_temperature = "293.15 K"', "oxygen is not liquid", "154"],
    ),
    "fuel that is ice": (
        ("mixture_ratio = 3.0", 'mixture_ratio = 3.0\nfuel_temperature = "80 K"'),
        ['propellants.fuel_temperature = "80 K"', "methane is not liquid", "from 90.694 K"],
    ),
    "peroxide too hot": (
        (
            'oxidizer = "oxygen"',
            'oxidizer = "hydrogen-peroxide"\noxidizer_temperature = "400 K"',
        ),
        ["hydrogen-peroxide is not liquid at 400 K", "to below 350 K", "Do: change it."],
    ),
    "no pressure asked for": (
        ("injector_drop_fraction = 0.2", "injector_drop_fraction = 0"),
        ["limits.injector_drop_fraction = 0", "from 0.01 to 1"],
    ),
    "tolerance wider than the slot": (
        ('width_tolerance = "0.03 mm"', 'width_tolerance = "0.9 mm"'),
        ['shop.width_tolerance = "0.9 mm"', "tolerance >= smallest slot width, 0.7 mm"],
    ),
    # materials and models
    "no condition": (
        ('condition = "solution-annealed-aged"', ""),
        ["liner.condition: required key missing", '"solution-annealed-aged"', '"hard-drawn"'],
    ),
    "unknown condition": (
        ('condition = "solution-annealed-aged"', 'condition = "soft"'),
        ['liner.condition = "soft"', '"hard-drawn"'],
    ),
    "any condition": (
        ('condition = "solution-annealed-aged"', 'condition = "any"'),
        ['liner.condition = "any"', "strength depends on the condition", '"hard-drawn"'],
    ),
    "unknown alloy": (
        ('alloy = "Cu-Cr-Zr"', 'alloy = "Cu-Cr-Zz"'),
        ['liner.alloy = "Cu-Cr-Zz"', 'did you mean "Cu-Cr-Zr"?'],
    ),
    "unknown correlation": (
        ('# gas_side = "bartz"', 'gas_side = "bartz_entalpy"'),
        ["models.gas_side", 'did you mean "bartz_enthalpy"?', '"pipe_film"'],
    ),
    # what covers the wall
    "coating without its conductivity": (
        (WALL, f'{WALL}\ncoating = "0.1 mm"'),
        ["liner.coating: it needs coating_conductivity too", "all or none"],
    ),
    "conductivity without a coating": (
        (WALL, f'{WALL}\ncoating_conductivity = "1.5 W/(m K)"'),
        ["liner.coating_conductivity: it needs coating too"],
    ),
    "conductivity of another unit": (
        (WALL, f'{WALL}\ncoating = "0.1 mm"\ncoating_conductivity = "1.5 W/m"'),
        ["liner.coating_conductivity", "not of conductivity", '"1.2 W/(m K)"'],
    ),
    "hydrogen form for methane": (
        (FRICTION, f'coolant_side = "hess_kunz"\n{FRICTION}'),
        [
            'models.coolant_side = "hess_kunz"',
            "fitted to hydrogen, and coolant.fluid is methane",
            '"krasnoshchekov_protopopov"',
            "leave the key out",
        ],
    ),
    "oxygen form for methane": (
        (FRICTION, f'coolant_side = "spencer_rousar"\n{FRICTION}'),
        ['models.coolant_side = "spencer_rousar"', "fitted to oxygen", '"jackson"'],
    ),
    "kerosene form for methane": (
        (FRICTION, f'coolant_side = "hines_wolf"\n{FRICTION}'),
        ['models.coolant_side = "hines_wolf"', "fitted to kerosene", '"gnielinski"'],
    ),
    "boiling form of water for methane": (
        (FRICTION, f'boiling = "thom"\n{FRICTION}'),
        ['models.boiling = "thom"', "fitted to water", "coolant.fluid is methane", '"cooper"'],
    ),
    "basis beside a name": (
        (FRICTION, f'basis = "best estimate"\ngas_side = "bartz"\n{FRICTION}'),
        ["models: basis and gas_side are both given", "remove one"],
    ),
    "unknown basis": (
        (FRICTION, f'basis = "optimistic"\n{FRICTION}'),
        ['models.basis = "optimistic"', '"design"', '"best estimate"'],
    ),
    "deposit as a thickness": (
        (GAS_SIDE, f'{GAS_SIDE}\ndeposit_resistance = "0.1 mm"'),
        ["models.deposit_resistance", "unit of length", "not of thermal resistance", "m2 K/W"],
    ),
    "deposit below nothing": (
        (GAS_SIDE, f'{GAS_SIDE}\ndeposit_resistance = "-1e-5 m2 K/W"'),
        ["models.deposit_resistance", "out of range", "0 m2 K/W to 0.01 m2 K/W"],
    ),
    "mixing factor with a unit": (
        (GAS_SIDE, f'{GAS_SIDE}\nmixing_factor = "0.5 mm"'),
        ["models.mixing_factor", "text in place of a number", "a plain number from 0.05 to 3"],
    ),
    "mixing factor with a unit in a pair": (
        (GAS_SIDE, f'{GAS_SIDE}\nmixing_factor = [["-150 mm", "0.5"], ["0 mm", 1.0]]'),
        ['models.mixing_factor[pair 1, value] = "0.5"', "drop the quotes"],
    ),
    "mixing factor without a unit of x": (
        (GAS_SIDE, f"{GAS_SIDE}\nmixing_factor = [[-150, 0.5], [0, 1.0], 3]"),
        None,  # three problems
    ),
    "radiation as a flag": (
        (GAS_SIDE, f"{GAS_SIDE}\nradiation = true"),
        ["models.radiation", '"off", "barrel", "everywhere"'],
    ),
    "freezing below the gas data": (
        (GAS_SIDE, f'{GAS_SIDE}\nfreeze_temperature = "100 K"'),
        ["models.freeze_temperature", "300 K to 6000 K"],
    ),
    # film
    "film of nothing": (
        film('mass_flow = "0 kg/s"'),
        ["film.mass_flow", "must be above zero"],
    ),
    "film of no share": (
        film('mass_flow = "0 fuel"'),
        ["film.mass_flow", "outside 0 to 1"],
    ),
    "film of more than the fuel": (
        film('mass_flow = "1.2 fuel"'),
        ["film.mass_flow", "outside 0 to 1"],
    ),
    "film without its flow": (
        film('state = "liquid"'),
        ["film.mass_flow: missing", '"entrainment" needs it'],
    ),
    "film as a number": (film("mass_flow = 0.08"), ["film.mass_flow", '"0.08 fuel"']),
    "film of isopropanol": (
        film('fluid = "isopropanol"', 'mass_flow = "0.05 kg/s"'),
        ["film.fluid", "no equation of state of isopropanol", '"ethanol", "propane"'],
    ),
    "film of oxidizer": (
        film('fluid = "oxygen"', 'mass_flow = "0.05 kg/s"'),
        ["film.fluid", "burns the wall"],
    ),
    "share of the fuel of another film": (
        film('fluid = "water"', 'mass_flow = "0.08 fuel"'),
        ["film.mass_flow", "the film is water and the fuel methane", "kg/s"],
    ),
    "film that is ice": (
        film('mass_flow = "0.08 fuel"', 'temperature = "80 K"'),
        ['film.temperature = "80 K"', "methane is not liquid", 'film.state = "gas"'],
    ),
    "film of kerosene vapour": (
        film('fluid = "n-dodecane"', 'mass_flow = "0.05 kg/s"', 'state = "gas"'),
        ['film.state = "gas"', "injected as a liquid only"],
    ),
    "slot without its height": (
        film('model = "slot"', 'state = "gas"', 'mass_flow = "0.08 fuel"'),
        ["film.slot_height: missing", '"slot" needs it', '"0.5 mm"'],
    ),
    "slot for a liquid": (
        film('model = "slot"', 'mass_flow = "0.08 fuel"', 'slot_height = "0.5 mm"'),
        ["film.state", "the slot correlation is for a gas", 'state = "gas"'],
    ),
    "height without the slot": (
        film('mass_flow = "0.08 fuel"', 'slot_height = "0.5 mm"'),
        ["film.slot_height", 'no effect with the film model "entrainment"', '"slot"'],
    ),
    "entrainment of a slot": (
        film(
            *('model = "slot"', 'state = "gas"', 'mass_flow = "0.08 fuel"'),
            *('slot_height = "0.5 mm"', "entrainment = 0.1"),
        ),
        ["film.entrainment", 'no effect with the film model "slot"'],
    ),
    "layer ratio without its model": (
        film('mass_flow = "0.08 fuel"', "layer_mixture_ratio = 1.5"),
        ["film.layer_mixture_ratio = 1.5", 'set film.model = "layer mixture ratio"'],
    ),
    "layer without its ratio": (
        film('model = "layer mixture ratio"'),
        ["film.layer_mixture_ratio: missing"],
    ),
    "layer with a flow": (
        film(
            *('model = "layer mixture ratio"', "layer_mixture_ratio = 1.5"),
            'mass_flow = "0.08 fuel"',
        ),
        ["film.mass_flow", 'no effect with the film model "layer mixture ratio"'],
    ),
    "unknown film model": (
        film('model = "slots"', 'mass_flow = "0.08 fuel"'),
        ["film.model", 'did you mean "slot"?'],
    ),
    # values along x
    "one pair": (
        (DEPTH, 'depth = [["0 mm", "2 mm"]]'),
        ["channels.depth", "at least two pairs are needed", "write a constant"],
    ),
    "falling pairs": (
        (DEPTH, 'depth = [["0 mm", "2 mm"], ["-1 mm", "2 mm"]]'),
        ["channels.depth", "pair 2 does not", "sort the pairs"],
    ),
    "doubled pairs": (
        (DEPTH, 'depth = [["0 mm", "2 mm"], ["0 mm", "1 mm"]]'),
        ["channels.depth", "x must rise"],
    ),
    "triple": (
        (DEPTH, 'depth = [["0 mm", "2 mm"], ["1 mm", "2 mm", "3 mm"]]'),
        ["channels.depth[pair 2]", "not a pair"],
    ),
    "no unit in a pair": (
        (DEPTH, 'depth = [["0 mm", "2 mm"], [1, "2 mm"]]'),
        ["channels.depth[pair 2, x] = 1", "number without a unit"],
    ),
    "absurd in a pair": (
        (DEPTH, 'depth = [["0 mm", "2 mm"], ["1 mm", "2 m"]]'),
        ['channels.depth[pair 2, value] = "2 m"', "out of range"],
    ),
    "table of another form": (
        (DEPTH, 'depth = {path = "x.csv"}'),
        ["channels.depth", "the key file alone", '{file = "table.csv"}'],
    ),
    "absent file": (
        FROM_FILE,
        ["channels.depth", "there is no file", "depth.csv", "folder of the case"],
    ),
    "file that is a folder": ((DEPTH, 'depth = {file = "."}'), ["channels.depth", "is a folder"]),
    "device": ((DEPTH, 'depth = {file = "/dev/zero"}'), ["not a plain file"]),
    "file name with a null": ((DEPTH, 'depth = {file = "a\\u0000"}'), ["not the name of a file"]),
    "very long file name": ((DEPTH, 'depth = {file = "' + "a" * 5000 + '"}'), ["cannot be read"]),
}


@pytest.mark.parametrize(
    ("replacement", "words"),
    [pytest.param(r, w, id=name) for name, (r, w) in ONE_PROBLEM.items() if w is not None],
)
def test_one_problem(refuse, replacement, words):
    text = only(refuse(edited(replacement)))
    for word in words:
        assert word in text


TABLES = {
    "ragged row": (b"x [mm], depth [mm]\n-1, 2\n0\n", ["line 3", "1 values where", "2 columns"]),
    "half a row": (b"x [mm], depth [mm]\n-1, 2\n0, ", ["line 3", '"" is not a finite number']),
    "half a number": (b"x [mm], depth [mm]\n-1, 2\n0, 2.", ["line 3", "middle of a number"]),
    "half an exponent": (b"x [mm], depth [mm]\n-1, 2\n0, 2e", ["line 3", '"2e"', "finite number"]),
    "words": (b"x [mm], depth [mm]\n-1, 2\n0, deep\n", ["line 3", '"deep" is not a finite']),
    "not finite": (b"x [mm], depth [mm]\n-1, 2\n0, inf\n", ["line 3", '"inf"']),
    "too large": (b"x [mm], depth [mm]\n-1, 2\n0, 1e999\n", ["line 3", '"1e999"']),
    "decimal commas": (b"x [mm]; depth [mm]\n-1,0; 2,0\n0; 2\n", ["line 2", "decimal point"]),
    "x twice": (b"x [mm], depth [mm]\n0, 2\n0, 3\n", ["line 3", "repeats the x"]),
    "x falls": (b"# a\nx [mm], depth [mm]\n0, 2\n-1, 3\n", ["line 4", "x falls", "sort the rows"]),
    "one row": (b"x [mm], depth [mm]\n0, 2\n", ["fewer than two rows", "line 2 only"]),
    "no row": (b"x [mm], depth [mm]\n", ["fewer than two rows", "none"]),
    "empty": (b"", ["holds no values", '"x [mm], depth [mm]"']),
    "no header": (b"0, 2\n1, 2\n", ["line 1", "no header with units"]),
    "no units": (b"x, depth\n0, 2\n1, 2\n", ["line 1", "no header with units", "x [mm]"]),
    "wrong unit": (b"x [mm], depth [K]\n0, 2\n1, 2\n", ["line 1", "unit of temperature"]),
    "unknown unit": (b"x [mm], depth [mmm]\n0, 2\n1, 2\n", ["line 1", 'did you mean "mm"?']),
    "other column": (b"x [mm], dept [mm]\n0, 2\n1, 2\n", ['no column "depth"', 'rename "dept"']),
    "absurd value": (b"x [mm], depth [mm]\n0, 2\n1, 2000\n", ["2000 mm at x = 1 mm", "units"]),
    "bytes": (b"x [mm], depth [mm]\n0, 2\n\xff\xfe, 2\n", ["not text in UTF-8 (line 3)"]),
    "two bytes a letter": ("x [mm]".encode("utf-16"), ["not text in UTF-8"]),
    "a doubled column": (b"x [mm], depth [mm], depth [mm]\n0, 2, 3\n1, 2, 3\n", ["twice"]),
    "half the header without unit": (b"x [mm], depth\n0, 2\n1, 2\n", ["line 1", '"depth"']),
}


@pytest.mark.parametrize(("content", "words"), TABLES.values(), ids=TABLES.keys())
def test_bad_table(refuse, content, words):
    text = only(refuse(edited(FROM_FILE), depth=content))
    assert text.startswith('channels.depth = {file = "depth.csv"}: depth.csv')
    for word in words:
        assert word in text


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"x [mm], mixing_factor [mm]\n-1, 0.5\n0, 1\n", ['"mm" is a unit', "plain number"]),
        (b"x [mm], mixing_factor [-]\n-1, 0.5\n0, 9\n", ["9.0 at x = 0 mm", "0.05 to 3"]),
        (b"x [mm], mixing [-]\n-1, 0.5\n0, 1\n", ['no column "mixing_factor"', "[-]"]),
    ],
)
def test_bad_table_of_plain_numbers(refuse, content, words):
    text = edited((GAS_SIDE, f'{GAS_SIDE}\nmixing_factor = {{file = "mixing.csv"}}'))
    text = only(refuse(text, mixing=content))
    for word in words:
        assert word in text


def test_an_empty_film_section_asks_for_its_flow(refuse):
    assert "film.mass_flow: missing" in only(refuse(edited(film())))


def test_large_table(refuse):
    text = only(refuse(edited(FROM_FILE), depth=b"x [mm], depth [mm]\n" + b"#" * 5_000_000))
    assert "too large" in text


def contour_text():
    head, _, tail = starter_text().partition("[contour]")
    return head + '[contour]\nprofile = "wall.csv"\n\n[liner]' + tail.partition("[liner]")[2]


def test_contour_with_a_radius_of_nothing(refuse):
    text = only(refuse(contour_text(), wall=b"x [mm], r [mm]\n-9, 20\n0, 0\n9, 20\n"))
    assert "contour.profile" in text
    assert "radius <= 0" in text


def test_contour_in_the_wrong_unit(refuse):
    text = only(refuse(contour_text(), wall=b"x [m], r [m]\n-9, 20\n0, 19\n9, 20\n"))
    assert "larger than 5 m" in text


@pytest.mark.parametrize(
    ("first", "last", "words"),
    [
        ("19", "30", ["the first area over the smallest is 1.", "from 1.2 to 50"]),
        ("150", "30", ["the first area over the smallest is 62.3", "from 1.2 to 50"]),
        ("30", "19", ["the last area over the smallest is 1.", "from 1.01 to 400"]),
        ("30", "600", ["the last area over the smallest is 997.2", "from 1.01 to 400"]),
    ],
)
def test_contour_of_a_ratio_the_rules_would_refuse(refuse, first, last, words):
    rows = f"x [mm], r [mm]\n-99, {first}\n0, 19\n99, {last}\n"
    text = only(refuse(contour_text(), wall=rows.encode()))
    for word in ('contour.profile = "wall.csv"', "check radii and their unit", *words):
        assert word in text


def test_contour_by_diameter(refuse):
    text = only(refuse(contour_text(), wall=b"x [mm], d [mm]\n-9, 20\n0, 19\n9, 20\n"))
    assert 'no column "r"' in text


def test_profile_beside_rules(refuse):
    text = edited(("[contour]  ", '[contour]\nprofile = "wall.csv"\n#'))
    text = only(refuse(text, wall=b"x [mm], r [mm]\n-9, 30\n0, 19\n9, 30\n"))
    assert 'contour.profile = "wall.csv"' in text
    assert "replaces the rules, and throat_diameter" in text


def test_bell_needs_its_angles_and_not_the_cone_s(refuse):
    error = refuse(edited(('nozzle = "cone"', 'nozzle = "bell"')))
    keys = [problem.key for problem in error.problems]
    assert keys == [
        "contour.bell_start_angle",
        "contour.bell_exit_angle",
        "contour.divergent_half_angle",
    ]
    assert "design chart" in str(error)


def test_a_liquid_stored_as_a_gas(refuse):
    error = refuse(edited(('fuel = "methane"', 'fuel = "RP-1"\nfuel_state = "gas"')))
    keys = [problem.key for problem in error.problems]
    assert keys == ["propellants.fuel_state", "coolant.mass_flow"]
    assert 'RP-1 is stored as a liquid only. Accepted: "liquid". Do: remove it.' in str(error)


def test_water_cannot_return(refuse):
    error = refuse(
        edited(
            ('fluid = "methane"', 'fluid = "water"'),
            ('mass_flow = "fuel"', 'mass_flow = "0.6 kg/s"\nreturns_to_injector = true'),
        )
    )
    assert "water does not burn as the fuel here, which is methane" in only(error)


FILES = {
    "empty": (b"", ["it is empty", "regen new case.toml"]),
    "blank": (b" \n\n", ["it is empty"]),
    "not UTF-8": (b"case = 1\ntitle = '\xff'\n", ["line 2 is not text in UTF-8"]),
    "two bytes a letter": ("case = 1".encode("utf-16"), ["not text in UTF-8"]),
    "syntax": (b"case = 1\ntitle = \n", ["TOML", "line 2", "column 9", "correct the line"]),
    "no quotes": (b"case = 1\ntitle = Linnet\n", ["TOML", "line 2"]),
    "key twice": (b"case = 1\ncase = 1\n", ["given twice", "line 2", "remove one"]),
    "section twice": (b"case = 1\n[liner]\n[liner]\n", ["given twice", "line 3"]),
    "deeply nested": (b"case = 1\na = " + b"[" * 50_000, ["nested too deeply"]),
    "endless digits": (b"case = 1\na = " + b"9" * 5000, ["TOML", "4300 digits"]),
    "null byte": (b"case = 1\x00\n", ["TOML", "line 1"]),
    "too large": (b"#" * 1_000_001, ["at most 1 MB"]),
    "no version": (b"title = 'x'\n", ["case:", "missing", "write case = 1 in the first line"]),
    "next version": (b"case = 2\n", ["case = 2", "does not read that version", "case = 1"]),
    "version in quotes": (b'case = "1"\n', ['case = "1"', "case = 1"]),
    "version as a flag": (b"case = true\n", ["case = true", "case = 1"]),
}


@pytest.mark.parametrize(("content", "words"), FILES.values(), ids=FILES.keys())
def test_bad_file(refuse, content, words):
    text = only(refuse(content))
    for word in words:
        assert word in text


def test_absent_file(tmp_path):
    with pytest.raises(CaseError, match="there is no such file.*regen new none.toml"):
        load_case(tmp_path / "none.toml")


def test_folder(tmp_path):
    with pytest.raises(CaseError, match="it is a folder"):
        load_case(tmp_path)


def test_impossible_path(tmp_path):
    for name in ("a\0b", "a" * 5000):
        with pytest.raises(CaseError, match="cannot be read|no such file"):
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
def test_section_that_is_none(refuse, given):
    text = edited(("[propellants]", f"shop = {given}\n[propellants]")).partition("[shop]")[0]
    assert only(refuse(text)).startswith("shop = ")


def test_list_of_sections(refuse):
    text = edited(("[shop]", "[[shop]]"))
    assert "not a section" in only(refuse(text))


OVERRIDES = {
    "no assignment": ("channels.count", ["not an assignment", "channels.count=96"]),
    "no value": ("channels.count=", ["not an assignment"]),
    "no key": ("=3", ["not an assignment"]),
    "unknown key": ("channels.cuont=96", ["--set channels.cuont", 'did you mean "count"?']),
    "unknown section": ("chanels.count=96", ["unknown section", 'did you mean "channels"?']),
    "key alone": ("count=96", ['write "channels.count"']),
    "misspelt title": ("titel=x", ['did you mean "title"?']),
    "section alone": ("channels={}", ["name one of its keys", "roughness_Ra"]),
    "deeper path": ("channels.width.file=x", ["unknown key"]),
    "version": ("case=2", ["does not name a section and a key"]),
    "number without a unit": (
        "chamber.pressure=40",
        ["chamber.pressure = 40", "number without a unit"],
    ),
    "two lines": (
        "channels.count=3\nx=4",
        ['channels.count = "3?x=4"', "text in place of a number"],
    ),
    "nothing to evaluate": ("channels.count=" + "[" * 5000, ["channels.count", "text"]),
}


@pytest.mark.parametrize(("given", "words"), OVERRIDES.values(), ids=OVERRIDES.keys())
def test_bad_override(refuse, given, words):
    text = only(refuse(starter_text(), [given]))
    for word in words:
        assert word in text


def test_override_below_what_is_no_section(refuse):
    text = edited(("[propellants]", "shop = 3\n[propellants]")).partition("[shop]")[0]
    assert only(refuse(text, ["shop.streak=0.1"])).startswith("shop = 3")


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


def test_a_film_of_the_fuel_needs_its_equation_of_state(refuse):
    film_of_fuel = film('mass_flow = "0.08 fuel"')
    coolant = (
        ('fluid = "methane"', 'fluid = "water"'),
        ('mass_flow = "fuel"', 'mass_flow = "1 kg/s"'),
    )
    fuel = ('fuel = "methane"', 'fuel = "isopropanol"')
    text = only(refuse(edited(film_of_fuel, fuel, *coolant)))
    assert "film.fluid: no equation of state of isopropanol is built in" in text
    assert 'one of "hydrogen", "methane", "ethanol"' in text

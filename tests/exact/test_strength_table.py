"""The table of the strength checks and its findings: a cylinder worked by hand, row by row.

Bore 40 mm, wall 0.8, slots 1.0 wide and 2 deep between lands of 1.5, copper 0.2, jacket 3: its
inner face is at 43 and its middle at 44.5 mm. The liner yields at 300 MPa cold, 240 at 500 K and
200 at 600 K, which is what lands and hot wall have at the first station; the jacket at 400 MPa.
The proof is therefore 1.2 x 300/200 = 1.8 times 95 bar in the channels, 30 bar in the bore.
"""

from __future__ import annotations

import numpy as np
import pytest

from regen import design as d
from regen.case.read import load_case
from regen.checks.coolant import facts_of
from regen.checks.findings import peak
from regen.checks.runs import Run, Solved
from regen.checks.strength.findings import assess
from regen.coolant.table import coolant_table
from regen.geometry.circuits import lay_paths
from regen.geometry.contour import build_contour
from regen.metals import selection as metals
from regen.output.review import finding_text
from tests.helpers import barrel

# sums by hand carry five digits
HAND = 2e-5

MPA = 1e6


def strong(*points):
    T, value = zip(*points, strict=True)
    return d.Allowables(T, tuple(MPA * one for one in value))


DESIGN = d.Design(
    title="a ring",
    propellants=d.Propellants("oxygen", "methane", 3.0),
    chamber=d.Chamber(30e5),
    contour=d.ContourShape(6.0, 5.0, throat_diameter=0.038, barrel_length=0.1),
    liner=d.Liner(
        "Cu-Cr-Zr",
        "solution-annealed-aged",
        d.Profile.constant(0.8e-3),
        yield_strength=strong((77.0, 300.0), (300.0, 300.0), (500.0, 240.0), (600.0, 200.0)),
        ultimate_strength=strong((77.0, 600.0), (900.0, 600.0)),
    ),
    channels=d.Channels(80, d.Profile.constant(1e-3), d.Profile.constant(2e-3), 3e-6),
    coolant=d.Coolant("water", 290.0),
    closeout=d.Closeout(
        copper=0.2e-3,
        jacket=3e-3,
        bond_strength=70e6,
        jacket_yield_strength=strong((77.0, 400.0), (900.0, 400.0)),
        jacket_ultimate_strength=strong((77.0, 800.0), (900.0, 800.0)),
    ),
)
STATIONS = {
    "x_m": [-0.1, 0.0, 0.1],
    "r_m": [0.04] * 3,
    "T_wall_hot_K": [700.0, 600.0, 500.0],
    "T_wall_hot_mean_K": [700.0, 600.0, 500.0],
    "T_wall_cold_K": [500.0, 440.0, 400.0],
    "T_coolant_K": [400.0, 350.0, 300.0],
    "h_coolant_W_m2K": [30e3, 40e3, 50e3],
    "p_coolant_Pa": [80e5, 85e5, 90e5],
    "p_gas_Pa": [30e5] * 3,
    "channel_width_m": [1.0e-3] * 3,
    "channel_depth_m": [2.0e-3] * 3,
    "land_width_m": [1.5e-3] * 3,
    "wall_m": [0.8e-3] * 3,
    "passage_length_m": [0.2, 0.1, 0.0],
}


def assessed(paths=()):
    stations = {name: np.array(values) for name, values in STATIONS.items()}
    solved = Solved(
        design=DESIGN,
        alloy=metals.liner(DESIGN),
        coolant=facts_of(DESIGN.coolant, coolant_table("water")),
        nominal=Run(stations, {"coolant_pressure_in_Pa": 95e5}),
    )
    return assess(solved, paths)


@pytest.fixture(scope="module")
def found():
    return assessed()


def test_the_first_row(found):
    """At 80 bar of coolant over 30 bar of gas."""
    stress = {
        # sqrt(3) 5 x 1/(2 x 0.8) is more than 5 x 1/(2 x 0.64) of bending
        "ligament_stress": 5.41266,
        "ligament_proof": 18.51129,  # the same of 17.1 MPa
        "land_tension": 8.0 / 1.5,
        "land_proof": 17.1 / 1.5,
        "bond_stress": 17.1 / 1.5,
        # 8 x 44.5/3 alone: with 20 + 17.977 MPa along the axis, von Mises finds less
        "jacket_stress": 118.66667,
        "roof_bending": 8.0 / 18.0,
        "jacket_proof": 253.65,  # 17.1 x 44.5/3
    }
    allowed = {
        "ligament_stress": 200 / 1.25,
        "ligament_proof": 300.0,
        "land_tension": 240 / 1.25,
        "land_proof": 300.0,
        "bond_stress": 70 / 1.4,
        "jacket_stress": 400 / 1.25,
        "roof_bending": 400 / 1.25,
        "jacket_proof": 400.0,
    }
    wanted = {f"{name}_Pa": value * MPA for name, value in stress.items()}
    wanted |= {f"margin_{name}": 1 - value / allowed[name] for name, value in stress.items()}
    wanted |= {
        "x_m": -0.1,
        "jacket_hoop_gas_Pa": 44.5 * MPA,
        "jacket_hoop_coolant_Pa": 118.66667 * MPA,
        # 3 x 40/(2 x 3), and 3 pi 40^2 N over 2 pi 44.5 x 3 mm2
        "jacket_axial_Pa": 37.97753 * MPA,
    }
    row = {name: float(column[0]) for name, column in found.columns.items() if name in wanted}
    assert row == pytest.approx(wanted, rel=HAND)


def test_the_findings(found):
    by_name = {(one.section, one.name): one for one in found.findings}
    for section, name, value, x in (
        ("proof", "pressure_channels", 171e5, None),
        ("proof", "pressure_bore", 54e5, None),
        ("proof", "ratio_ligament", 1.5, None),
        ("proof", "ratio_lands", 1.25, None),
        ("proof", "ratio_jacket", 1.0, None),
        ("structure", "tightest", 253.65e6, -0.1),
        ("structure", "jacket_hoop_gas", 44.5e6, -0.1),
        ("structure", "jacket_hoop_coolant", 133.5e6, 0.1),  # 9 x 44.5/3 at the last station
        ("structure", "jacket_axial", 37.97753e6, -0.1),
        ("structure", "thrust", 15079.6, None),
        ("structure", "bond_needed", 15.96e6, -0.1),  # 11.4 x 1.4
    ):
        one = by_name[section, name]
        assert one.value == pytest.approx(value, rel=HAND), name
        assert one.x_m == x, name
    note = by_name["proof", "pressure_channels"].note
    assert note.startswith("1.2 x 95.0 bar, the highest in operation, x 1.50, yield ratio")
    assert "of the hot wall, which governs" in note
    tightest = by_name["structure", "tightest"]
    assert tightest.text.endswith("jacket, proof")
    assert tightest.note.startswith("+37 % to its limit; p r/t")  # 1 - 253.65/400
    said = {name: finding_text(one) for (_, name), one in by_name.items()}
    assert said["pressure_channels"] == "171 bar"
    assert said["thrust"] == "15.1 kN"
    assert said["bond_needed"] == "16.0 MPa"


def test_a_peak_is_that_of_its_own_row_where_passes_repeat_an_x():
    top = peak(np.array([1.0, 3.0, np.nan]), np.array([0.1, 0.1, 0.2]))
    assert top == (3.0, 0.1, 1)
    assert top.of(np.array([10.0, 20.0, 30.0])) == 20.0
    assert np.isnan(peak(np.full(2, np.nan), np.zeros(2)).value)


def test_strain_is_told_in_per_cent(found):
    by_name = {one.name: one for one in found.findings}
    for name in ("strain_range", "strain_range_low", "strain_range_plastic"):
        most = np.nanmax(found.columns[name])
        assert by_name[name].value == pytest.approx(100.0 * most, rel=1e-12)
        assert by_name[name].unit == "%"
    assert by_name["strain_range"].value >= by_name["strain_range_low"].value
    assert by_name["strain_range"].value >= by_name["strain_range_plastic"].value


def test_masses_of_the_layers():
    """The slots of tests/barrel: rings of 40 to 45, 45.2 and 48.2 mm, 100 long, less 30 cm3."""
    case = load_case(barrel.CASE, ()).design
    paths = lay_paths(case, build_contour(case.contour))
    masses = {one.name: one.value for one in assessed(paths).findings if one.section == "mass"}
    radii = np.array([40.0, 45.0, 45.2, 48.2])
    liner, copper, jacket = np.pi * np.diff(radii**2) * 100.0 / 1000.0  # cm3
    rho = [
        metal(DESIGN).alloy.density.value / 1e6  # kg/cm3
        for metal in (metals.liner, metals.plated_copper, metals.jacket)
    ]
    wanted = {
        "liner": rho[0] * (liner - 30.0),
        "copper": rho[1] * copper,
        "jacket": rho[2] * jacket,
    }
    assert masses == pytest.approx(wanted | {"whole": sum(wanted.values())}, rel=HAND)

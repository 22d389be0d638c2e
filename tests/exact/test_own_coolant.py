"""A coolant of the case's own: its table filled from an equation of state must give its answers."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from regen import design as d
from regen.case.read import case_from
from regen.checks.review import review
from regen.coolant.own import own_table
from regen.errors import RangeError
from regen.physics.tables import coolant_h, coolant_hp, saturation, sound_speed
from regen.solver.prepare import prepare
from regen.studies.batch.designs import DesignBatch, solve_batch
from regen.studies.batch.parameters import numeric_key
from tests.helpers import own_coolant as own
from tests.helpers.places import WATER

TEXT = WATER.read_text(encoding="utf-8")

# Monotone cubics through rows 15 K apart: 0.2 % in density, conductivity and heat capacity of
# water between them, 1 % in its viscosity where it falls fastest.
BETWEEN, BETWEEN_MU = 0.003, 0.01
# Saturation at 15 pressures, read between them.
LINE, LINE_SIGMA = 0.001, 0.005
# Liquid at 75 bar is up to 0.55 % denser than at saturation.
PRESSED = 0.006
# One isobar, at 75 bar, stands for all pressures from 1 to 66 bar: water's density and viscosity
# differ by 0.3 % there.
MARCHED, MARCHED_DROP = 1.5e-3, 4e-3
# A grid of pressures and temperatures: interpolation alone.
GRID = 2e-4


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    path = tmp_path_factory.mktemp("own")
    (path / "water.csv").write_text(own.isobaric("Water", 75e5, own.WATER_T))
    (path / "line.csv").write_text(own.saturation("Water", own.WATER_P))
    T = np.arange(280.0, 741.0, 20.0)
    (path / "grid.csv").write_text(own.grid("n-Dodecane", [25e5, 35e5, 50e5, 70e5], T))
    (path / "isobar.csv").write_text(own.isobaric("n-Dodecane", 60e5, T))
    (path / "enthalpy.csv").write_text(own.isobaric("n-Dodecane", 60e5, T, enthalpy=True))
    return path


BOILS = 'critical_pressure = "220.64 bar"\nmolar_mass = "18.015 g/mol"'


@pytest.fixture(scope="module")
def water(folder):
    """The water chamber with a table of its own, and with the built-in one."""
    text = TEXT + '\n[models]\ncoolant_side = "gnielinski"\nboiling = "cooper"\n'
    keys = f'fluid = "water"\ntable = "water.csv"\nsaturation = "line.csv"\n{BOILS}'
    return text.replace('fluid = "water"', keys), text


def solved(text, folder):
    return review(case_from(text, folder / "case.toml").design)


def table_in(text, folder):
    return own_table(case_from(text, folder / "case.toml").design.coolant)


@pytest.mark.parametrize("T", [282.0, 303.0, 377.0, 451.0, 533.0])
def test_properties_between_the_rows(water, folder, T):
    table = table_in(water[0], folder)
    h, flag = coolant_h(table, T, 60e5)
    assert flag == 0
    T_back, rho, mu, k, cp, flag = coolant_hp(table, h, 60e5)
    assert flag == 0
    assert T_back == pytest.approx(T, abs=1e-6)
    for ours, name, tolerance in (
        (rho, "D", BETWEEN), (cp, "C", BETWEEN), (k, "L", BETWEEN), (mu, "V", BETWEEN_MU),
    ):  # fmt: skip
        assert ours == pytest.approx(PropsSI(name, "T", T, "P", 75e5, "Water"), rel=tolerance)


def test_enthalpy_rises_as_the_heat_capacity_and_the_pressure_ask(water, folder):
    table = table_in(water[0], folder)
    rise = coolant_h(table, 500.0, 50e5)[0] - coolant_h(table, 300.0, 50e5)[0]
    exact = PropsSI("H", "T", 500.0, "P", 75e5, "Water") - PropsSI(
        "H", "T", 300.0, "P", 75e5, "Water"
    )
    assert rise == pytest.approx(exact, rel=1e-3)
    # (1 - b T)/rho of water at 275 K, where b is near zero: 1.0e-3 m3/kg over 50 bar
    pressed = coolant_h(table, 300.0, 60e5)[0] - coolant_h(table, 300.0, 10e5)[0]
    assert pressed == pytest.approx(50e5 * 1.0e-3, rel=0.03)


@pytest.mark.parametrize("p", [1e5, 3e5, 20e5, 47e5, 66e5])
def test_saturation_between_its_rows(water, folder, p):
    T, h_l, h_v, rho_l, rho_v, sigma = saturation(table_in(water[0], folder), p)
    exact = {n: [PropsSI(n, "P", p, "Q", q, "Water") for q in (0, 1)] for n in "THDI"}
    assert T == pytest.approx(exact["T"][0], rel=LINE)
    assert h_v - h_l == pytest.approx(exact["H"][1] - exact["H"][0], rel=LINE)
    assert rho_l == pytest.approx(exact["D"][0], rel=PRESSED)
    assert rho_v == pytest.approx(exact["D"][1], rel=LINE)
    assert sigma == pytest.approx(exact["I"][0], rel=LINE_SIGMA)


@pytest.mark.parametrize("flow", ["0.6 kg/s", "0.3 kg/s"])
def test_a_chamber_with_its_own_water_is_that_with_the_built_in_one(water, folder, flow):
    """The lesser flow boils: wall above saturation, burnout judged and missed."""
    ours, built_in = (solved(text.replace("0.6 kg/s", flow), folder) for text in water)
    for name in (
        *("T_wall_hot_max_K", "T_wall_cold_max_K", "q_max_W_m2", "heat_total_W"),
        *("coolant_temperature_out_K", "coolant_pressure_out_Pa"),
    ):
        assert ours.summary[name] == pytest.approx(built_in.summary[name], rel=MARCHED), name
    drop = "coolant_pressure_drop_Pa"
    assert ours.summary[drop] == pytest.approx(built_in.summary[drop], rel=MARCHED_DROP)
    both = [{m.name: m for m in result.margins} for result in (ours, built_in)]
    # whether a coolant of the user's own feeds the injector is not said; water does not
    assert both[0].keys() - both[1].keys() == {"injector_pressure"}
    for name in ("burnout", "coolant_temperature", "hot_wall_temperature"):
        a, b = (found[name] for found in both)
        assert a.limit == pytest.approx(b.limit, rel=0.006), name
        assert a.nominal == pytest.approx(b.nominal, abs=0.015), name
        assert a.columns["nominal"].state == b.columns["nominal"].state, name
    assert len(ours.bands["q_max_W_m2"].members) == len(built_in.bands["q_max_W_m2"].members)


OIL = TEXT.replace('"20 bar"', '"60 bar"').replace('"water"', '"n-dodecane"')
OIL += '\n[models]\ncoolant_side = "gnielinski"\n'


def oil(file, critical='critical_pressure = "18 bar"'):
    return OIL.replace('"n-dodecane"', f'"our oil"\ntable = "{file}.csv"\n{critical}')


@pytest.fixture(scope="module")
def dodecane(folder):
    return solved(OIL, folder)


@pytest.mark.parametrize(
    ("file", "tolerance"), [("grid", GRID), ("isobar", MARCHED), ("enthalpy", MARCHED)]
)
def test_a_dense_liquid_without_saturation(dodecane, folder, file, tolerance):
    ours = solved(oil(file), folder)
    for name in (
        *("T_wall_hot_max_K", "T_wall_cold_max_K", "q_max_W_m2", "heat_total_W"),
        *("coolant_temperature_out_K", "coolant_pressure_drop_Pa"),
    ):
        assert ours.summary[name] == pytest.approx(dodecane.summary[name], rel=tolerance), name


def test_speed_of_sound_of_a_grid_and_of_an_isobar(folder):
    T, p = 400.0, 42e5
    table = table_in(oil("grid"), folder)
    found = sound_speed(table, coolant_h(table, T, p)[0], p)
    # by differences of the rows' densities
    assert found == pytest.approx(PropsSI("A", "T", T, "P", p, "n-Dodecane"), rel=0.02)
    table = table_in(oil("isobar"), folder)
    assert sound_speed(table, coolant_h(table, T, p)[0], p) > 1e8


def test_one_phase_ends_with_its_rows(folder):
    table = table_in(oil("isobar"), folder)
    assert coolant_h(table, 740.0, 60e5)[1] == 0
    assert coolant_h(table, 740.1, 60e5)[1] == 3
    assert coolant_h(table, 279.9, 60e5)[1] == 4
    hottest = coolant_h(table, 740.0, 60e5)[0]
    assert coolant_hp(table, hottest + 10.0, 60e5)[5] == 3
    table = table_in(oil("grid"), folder)
    assert coolant_hp(table, 0.5 * hottest, 24.9e5)[5] == 3
    assert coolant_hp(table, 0.5 * hottest, 70.1e5)[5] == 3


def test_a_liquid_ends_with_its_saturation(water, folder):
    table = table_in(water[0], folder)
    h = coolant_h(table, 350.0, 20e5)[0]
    flags = [coolant_hp(table, h, p)[5] for p in (0.99e5, 1.01e5, 65.9e5, 66.1e5)]
    assert flags == [3, 0, 0, 3]
    with pytest.raises(
        RangeError, match=r"inlet_pressure: 70 bar is outside.*accepted: 1 to 66 bar"
    ):
        prepare(case_from(water[0].replace('"20 bar"', '"70 bar"'), folder / "case.toml").design)
    with pytest.raises(RangeError, match=r"inlet_temperature: 270 K.*accepted: 275.00 to"):
        prepare(case_from(water[0].replace('"290 K"', '"270 K"'), folder / "case.toml").design)


def test_a_batch_of_a_coolant_of_its_own_is_its_reviews(folder):
    design = pickle.loads(pickle.dumps(case_from(oil("isobar"), folder / "case.toml").design))
    keys = tuple(numeric_key(f"coolant.inlet_{n}", design) for n in ("temperature", "pressure"))
    batch = DesignBatch(design, keys, np.array([[290.0, 60e5], [330.0, 45e5]]))
    peaks = solve_batch(batch, judged="nominal").summary["T_wall_hot_max_K"]
    for n, peak in enumerate(peaks):
        assert peak == review(batch.row(n)).summary["T_wall_hot_max_K"]


def margin(result, name):
    return next((m for m in result.margins if m.name == name), None)


def test_what_may_boil_unseen_is_never_passed(folder):
    """Above a given critical pressure there is no boiling; else it is an open row."""
    above = solved(oil("isobar"), folder)
    assert margin(above, "burnout") is None
    for critical in ("", 'critical_pressure = "55 bar"'):
        found = margin(solved(oil("isobar", critical), folder), "burnout")
        assert found.nominal is None
        assert found.verdict == "open"
        assert "no saturation of our oil is given" in found.note
        assert "coolant.saturation" in found.note
    purge = [f for f in above.findings if f.name == "purge_time"]
    assert purge[0].value is not None
    unknown = solved(oil("isobar", ""), folder)
    purge = [f for f in unknown.findings if f.name == "purge_time"]
    assert purge[0].value is None


def test_forms_of_liquids_make_the_band(folder):
    result = solved(oil("isobar").replace('coolant_side = "gnielinski"\n', ""), folder)
    members = " ".join(result.bands["T_wall_hot_max_K"].members)
    for name in ("gnielinski", "sieder_tate", "dittus_boelter", "petukhov_kirillov_popov"):
        assert name in members
    for name in ("krasnoshchekov", "jackson", "taylor", "kerosene"):
        assert name not in members


def test_the_table_goes_where_the_design_goes(water, folder):
    case = case_from(water[0], folder / "case.toml")
    there = pickle.loads(pickle.dumps(case.design))
    assert there == case.design
    assert hash(there) == hash(case.design)
    assert own_table(there.coolant) is own_table(case.design.coolant)
    text = (folder / "line.csv").read_text()
    try:
        (folder / "line.csv").write_text(text.replace("2257", "2258", 1))
        assert case_from(water[0], folder / "case.toml").hash != case.hash
    finally:
        (folder / "line.csv").write_text(text)


def rows(**values):
    T = tuple(np.linspace(300.0, 500.0, 6))
    plain = {"density": (800.0,) * 6, "viscosity": (1e-3,) * 6, "conductivity": (0.1,) * 6}
    return d.CoolantData(file="rows.csv", T=T, p=(), **{**plain, **values})


def test_enthalpies_that_make_no_heat_capacity_are_refused():
    # rising, but a smooth line through the jump goes down again
    feed = d.Coolant("oil", 300.0, table=rows(enthalpy=(0.0, 1e3, 2e3, 9e5, 9.01e5, 9.02e5)))
    with pytest.raises(RangeError, match=r"rows.csv: the heat capacity.*is not positive near"):
        own_table(feed)


def test_a_constant_liquid_by_hand():
    """cp 2000 J/(kg K), rho 800: h = 2000 (T - 300) + (p - 1 bar)/800."""
    table = own_table(d.Coolant("oil", 300.0, table=rows(heat_capacity=(2000.0,) * 6)))
    for T, p in ((310.0, 5e5), (480.0, 200e5)):
        expected = 2000.0 * (T - 300.0) + (p - 1e5) / 800.0
        # the pressure is a smooth line through 48 places
        assert coolant_h(table, T, p)[0] == pytest.approx(expected, rel=1e-4)
        assert coolant_hp(table, expected, p)[1:5] == pytest.approx((800.0, 1e-3, 0.1, 2000.0))

"""Coolant tables, as the compiled core reads them, against published points and direct calls."""

from __future__ import annotations

import math
import tomllib
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from regen.coolant import table as coolant
from regen.coolant.table import COOLANTS, P_MAX, P_MIN, coolant_table
from regen.physics import tables as tb
from tests.published.ledger import Check, Window, judge

pytestmark = pytest.mark.usefixtures("fresh_cache")

DATA = tomllib.loads((Path(__file__).parent / "coolant_points.toml").read_text())

# Check values hold to all digits in the equation of state; the table adds its own error.
CHECK = 1e-4
# The industrial formulation is a fit to the scientific one: 1e-5 in density, but 0.1 % in heat
# capacity and speed of sound in region 1.
FORMULATIONS = 1.5e-3
# Boiling points are recalled to the digits given.
RECALLED = 2e-4
# Latent heats, recalled to four digits.
LATENT = 1e-3
# Critical temperatures and pressures of equations of state and of recommendations differ: 0.1 and
# 0.3 %, for ethanol (514.0 to 514.7 K, 6.1 to 6.27 MPa) and propane more.
CRITICAL_T, CRITICAL_P = 1.5e-3, 0.015
# Correlations are reproduced to 0.1 %; the printed values of methane miss by 0.9 %.
TRANSPORT, TRANSPORT_METHANE = 1.5e-3, 0.012
# The poles of heat capacity and conductivity lie here; the table's own limits are in NEAR below.
TRANSPORT_NEAR, NEAR_DENSITY = 0.02, 1e-3
# Measured 1.22 below 500 K and 1.19 at 545 K; a percent either side.
STAND_IN = (1.18, 1.235)
# The fit's digits, and 1 K a degree of the peak's flat top.
PSEUDO_CRITICAL = 0.5  # K
SURFACE_TENSION = 2e-3


@pytest.fixture(scope="module")
def table():
    return cache(coolant_table)


@pytest.fixture(scope="module")
def direct():
    from CoolProp.CoolProp import AbstractState

    return cache(lambda fluid: AbstractState("HEOS", COOLANTS[fluid]))


def at(table, T, p):
    """Properties at temperature and pressure, the state inside the table."""
    h, flag = tb.coolant_h(table, T, p)
    assert flag == tb.FLAG_INSIDE
    found = tb.coolant_hp(table, h, p)
    assert found[5] == tb.FLAG_INSIDE
    assert found[0] == pytest.approx(T, rel=1e-9)
    return dict(zip(("T", "rho", "mu", "k", "cp"), found, strict=False)) | {
        "h": h,
        "a": tb.sound_speed(table, h, p),
    }


# --- published points --------------------------------------------------------------------------
IAPWS = "all digits of the equation of state, and the table's own error"


def water_checks(table, row):
    found = at(table("water"), row["T_K"], row["p_Pa"])
    tolerance = CHECK if row["source"] == "iapws95_check" else FORMULATIONS
    why = IAPWS if tolerance == CHECK else "the two formulations differ by 0.1 % here"
    point = f"{row['T_K']:.0f} K, {row['p_Pa'] / 1e6:.0f} MPa"
    yield Check(
        row["source"], "water: density", point, row["rho_kg_m3"], found["rho"], CHECK, IAPWS,
        "kg/m3",
    )  # fmt: skip
    for key, ours, what in (
        ("sound_m_s", found["a"], "speed of sound"),
        ("cp_J_kgK", found["cp"], "heat capacity"),
    ):
        if key in row:
            yield Check(row["source"], f"water: {what}", point, row[key], ours, tolerance, why)


@pytest.mark.parametrize("row", DATA["water"], ids=lambda r: f"{r['source']} {r['T_K']:.0f} K")
def test_water_check_values(table, row):
    judge(water_checks(table, row))


def water_line_checks(table):
    cold, hot = (at(table("water"), T, 3e6)["h"] for T in (300.0, 500.0))
    row = DATA["water_enthalpy"]
    yield Check(
        row["source"], "water: enthalpy rise", "300 to 500 K, 3 MPa", row["rise_J_kg"], hot - cold,
        CHECK, IAPWS, "J/kg",
    )  # fmt: skip
    row = DATA["water_saturation"]
    for p, T in zip(row["p_Pa"], row["T_K"], strict=True):
        ours = tb.saturation(table("water"), p)[0]
        point = f"{p / 1e5:.0f} bar"
        yield Check(row["source"], "water: saturation", point, T, ours, CHECK, IAPWS, "K")
    sigma = tb.saturation(table("water"), 101325.0)[5]
    row = DATA["surface_tension_water"]
    yield Check(
        row["source"], "water: surface tension", "101325 Pa", row["sigma_N_m"], sigma,
        SURFACE_TENSION, "four digits", "N/m",
    )  # fmt: skip
    row = DATA["pseudo_critical"]
    yield Check(
        row["source"], "water: pseudo-critical temperature", "25 MPa", row["T_K"],
        tb.pseudo_critical_T(table("water"), row["p_Pa"]), PSEUDO_CRITICAL,
        "one decimal; the peak is flat", "K", absolute=True,
    )  # fmt: skip


def test_water_on_its_saturation_line(table):
    judge(water_line_checks(table))


BOILING = {k: v for k, v in DATA["boiling"].items() if k != "source"}
LATENT_HEATS = {k: v for k, v in DATA["latent_J_kg"].items() if k != "source"}


def boiling_checks(table, fluid):
    T, h_l, h_v, rho_l, _, _ = tb.saturation(table(fluid), 101325.0)
    source, digits = DATA["boiling"]["source"], "recalled to four or five digits"
    for what, theirs, ours, unit in (
        ("boiling point", BOILING[fluid][0], T, "K"),
        ("density of the boiling liquid", BOILING[fluid][1], rho_l, "kg/m3"),
    ):
        series = f"{what} at 101325 Pa"
        yield Check(source, series, fluid, theirs, ours, RECALLED, digits, unit)
    if fluid in LATENT_HEATS:
        yield Check(
            DATA["latent_J_kg"]["source"], "latent heat", fluid, LATENT_HEATS[fluid], h_v - h_l,
            LATENT, "recalled to four digits", "J/kg",
        )  # fmt: skip


@pytest.mark.parametrize("fluid", BOILING)
def test_normal_boiling_points(table, fluid):
    judge(boiling_checks(table, fluid))


def test_latent_heats_are_all_compared():
    assert set(LATENT_HEATS) < set(BOILING)


def critical_checks(table, fluid):
    T, p = DATA["critical"][fluid]
    source, why = DATA["critical"]["source"], "equations of state and recommendations differ"
    found = table(fluid)
    yield Check(source, "critical temperature", fluid, T, found.T_critical, CRITICAL_T, why, "K")
    yield Check(source, "critical pressure", fluid, p, found.p_critical, CRITICAL_P, why, "Pa")


@pytest.mark.parametrize("fluid", COOLANTS)
def test_critical_points(table, fluid):
    judge(critical_checks(table, fluid))


REPRODUCED = "correlations are reproduced to 0.1 %; methane as printed misses by 0.9 %"


def transport_checks(table, direct, row):
    import CoolProp

    # the points are at a density: the pressure of the state comes from the equation of state
    state, fluid = direct(row["fluid"]), row["fluid"]
    rho = row.get("rho_kg_m3") or row["rho_mol_m3"] * state.molar_mass()
    state.update(CoolProp.DmassT_INPUTS, rho, row["T_K"])
    near = row.get("near_critical", False)
    if near:
        # pressure hardly fixes the density here: enthalpy does
        T, found_rho, mu, k, _, flag = tb.coolant_hp(table(fluid), state.hmass(), state.p())
        assert flag == tb.FLAG_INSIDE
        assert pytest.approx(row["T_K"], rel=CHECK) == T
        found = {"rho": found_rho, "mu": mu, "k": k}
    else:
        found = at(table(fluid), row["T_K"], state.p())
    assert found["rho"] == pytest.approx(rho, rel=NEAR_DENSITY if near else CHECK)
    tolerance = TRANSPORT_METHANE if fluid == "methane" else TRANSPORT
    where, why = "", REPRODUCED
    if near:
        tolerance, where = TRANSPORT_NEAR, " near critical"
        why = "conductivity has its pole here, and the table smooths it"
    for key, what in (("mu_Pa_s", "viscosity"), ("k_W_mK", "conductivity")):
        if key in row:
            ours = found[key.split("_")[0]]
            series, point = f"{what}{where}", f"{fluid} {row['T_K']:.0f} K"
            yield Check(row["source"], series, point, row[key], ours, tolerance, why)


@pytest.mark.parametrize(
    "row", DATA["transport"], ids=lambda row: f"{row['fluid']} {row['T_K']:.0f} K"
)
def test_transport_check_points(table, direct, row):
    judge(transport_checks(table, direct, row))


def library_checks(direct):
    """Hydrogen's published points are gas below critical pressure, which no table holds."""
    import CoolProp

    for row in DATA["library"]:
        state = direct(row["fluid"])
        state.update(CoolProp.DmassT_INPUTS, row["rho_kg_m3"], row["T_K"])
        yield Check(
            row["source"], "conductivity, the equations behind the table",
            f"para-{row['fluid']} {row['T_K']:.0f} K, gas", row["k_W_mK"], state.conductivity(),
            TRANSPORT, "reproduced to 0.1 %; not through the table", "W/(m K)",
        )  # fmt: skip


def test_conductivity_of_para_hydrogen_behind_the_table(direct):
    judge(library_checks(direct))


def saturated_checks(table, direct, row):
    import CoolProp

    state, fluid = direct(row["fluid"]), row["fluid"]
    state.update(CoolProp.QT_INPUTS, 0.0, row["T_K"])
    p = state.p()
    liquid = table(fluid)
    h_l = tb.saturation(liquid, p)[1]
    _, _, mu, k, _, flag = tb.coolant_hp(liquid, h_l, p)
    assert flag == tb.FLAG_INSIDE
    # 0.2 K below critical for propane, where conductivity peaks
    tolerance = TRANSPORT_METHANE if fluid in ("methane", "propane") else TRANSPORT
    for key, what, ours in (("mu_Pa_s", "viscosity", mu), ("k_W_mK", "conductivity", k)):
        if key in row:
            point = f"{fluid} {row['T_K']:.0f} K, saturated"
            yield Check(row["source"], what, point, row[key], ours, tolerance, REPRODUCED)


@pytest.mark.parametrize(
    "row", DATA["saturated"], ids=lambda row: f"{row['fluid']} {row['T_K']:.0f} K"
)
def test_transport_of_saturated_liquid(table, direct, row):
    judge(saturated_checks(table, direct, row))


def kerosene_windows(table):
    """The stand-in conducts better than the fuel: a known bias, kept within what was measured."""
    row = DATA["kerosene"]
    for T, k in zip(row["T_K"], row["k_W_mK"], strict=True):
        yield Window(
            row["source"], "n-dodecane over the kerosene it stands for: conductivity",
            f"{T:.0f} K", *STAND_IN, at(table("n-dodecane"), T, 10e5)["k"] / k,
            "a known bias of 19 to 23 %; it flatters the film coefficient by about 13 %",
        )  # fmt: skip


def test_dodecane_conducts_better_than_the_kerosene_it_stands_for(table):
    judge(kerosene_windows(table))


def test_hydrogen_is_para_hydrogen(table):
    """Enthalpy rise from 35 to 300 K at 150 bar: 4240 kJ/kg, of normal hydrogen 3746."""
    cold, hot = (at(table("hydrogen"), T, 150e5)["h"] for T in (35.0, 300.0))
    assert hot - cold == pytest.approx(4240e3, rel=1e-3)


# --- direct calls on random states off the nodes ------------------------------------------------
# Largest relative errors allowed: T, rho, mu, k, cp, speed of sound. Temperature and density are
# measured at 1e-5; viscosity of cold ethanol, which doubles in 10 K, 1.7e-3; conductivity and heat
# capacity 4e-3 at their peak.
FAR = np.array([1e-4, 1e-4, 2e-3, 4e-3, 4e-3, 1e-3])
# 98 of 100 states are better than this.
USUAL = np.array([1e-5, 2e-5, 3e-4, 4e-4, 4e-4, 1e-4])
# Within 1 % of the critical pressure, where heat capacity and conductivity have a pole.
NEAR = np.array([1e-4, 1e-3, 4e-3, 0.05, 0.08, 0.01])
STATES = 150


def random_states(table, patch, rng):
    """Enthalpies and pressures of a patch."""
    for _ in range(STATES):
        if patch == "dense":
            ratio = math.exp(
                rng.uniform(math.log(1.02), math.log(0.999 * P_MAX / table.p_critical))
            )
        elif patch == "liquid":
            ratio = math.exp(-rng.uniform(0.02, math.log(table.p_critical / (1.001 * P_MIN))))
        else:
            ratio = rng.uniform(0.99, 1.01)
        p = ratio * table.p_critical
        bar = tb.isobar(table, p)
        if patch == "near critical" and ratio > 1.0:
            h, _ = tb.coolant_h(table, table.T_critical * rng.uniform(0.9, 1.15), p)
        else:
            h = bar.low + rng.uniform(0.001, 0.999) * (bar.high - bar.low)
        yield h, p


@pytest.mark.parametrize("patch", ["dense", "liquid", "near critical"])
@pytest.mark.parametrize("fluid", COOLANTS)
def test_table_against_the_equation_of_state(table, direct, fluid, patch):
    import CoolProp

    state, rng = direct(fluid), np.random.default_rng(11)
    errors = []
    for h, p in random_states(table(fluid), patch, rng):
        *found, flag = tb.coolant_hp(table(fluid), h, p)
        if flag == tb.FLAG_EXTRAPOLATED:
            continue
        assert flag == tb.FLAG_INSIDE
        try:
            state.update(CoolProp.HmassP_INPUTS, h, p)
        except ValueError:  # its own flash fails at 0.3 % of the states of oxygen
            continue
        exact = [state.T(), state.rhomass(), state.viscosity(), state.conductivity()]
        exact += [state.cpmass(), state.speed_sound()]
        ours = [*found, tb.sound_speed(table(fluid), h, p)]
        errors.append(np.abs(np.array(ours) / exact - 1.0))
    assert len(errors) > 0.4 * STATES
    worst = np.max(errors, axis=0)
    assert np.all(worst < (NEAR if patch == "near critical" else FAR)), worst
    if patch != "near critical":
        usual = np.quantile(errors, 0.98, axis=0)
        assert np.all(usual < USUAL), usual


@pytest.mark.parametrize("fluid", COOLANTS)
def test_saturation_line_against_the_equation_of_state(table, direct, fluid):
    import CoolProp

    state, t = direct(fluid), table(fluid)
    for share in (0.03, 0.2, 0.5, 0.8, 0.97):
        p = P_MIN * (t.p_critical / P_MIN) ** share
        found = tb.saturation(t, p)
        state.update(CoolProp.PQ_INPUTS, p, 1.0)
        h_v, rho_v = state.hmass(), state.rhomass()
        state.update(CoolProp.PQ_INPUTS, p, 0.0)
        h_l, rho_l = state.hmass(), state.rhomass()
        span = h_v - h_l
        assert found[0] == pytest.approx(state.T(), rel=1e-6)
        assert found[1] == pytest.approx(h_l, abs=1e-4 * span)
        assert found[2] == pytest.approx(h_v, abs=1e-4 * span)
        assert found[3] == pytest.approx(rho_l, rel=1e-4)
        assert found[4] == pytest.approx(rho_v, rel=1e-4)
        assert found[5] == pytest.approx(state.surface_tension(), rel=2e-3)
        # through the edge: liquid on one side, flagged on the other, never a mean of the two
        inside = tb.coolant_hp(t, found[1] - 1e-6 * span, p)
        outside = tb.coolant_hp(t, found[1] + 0.3 * span, p)
        assert inside[5] == tb.FLAG_INSIDE
        assert inside[0] == pytest.approx(found[0], rel=1e-5)
        assert inside[1] == pytest.approx(rho_l, rel=1e-4)
        assert outside[5] == tb.FLAG_TWO_PHASE
        assert outside[1] == pytest.approx(rho_l, rel=1e-4)


# --- flags beyond range ------------------------------------------------------------------------
@pytest.mark.parametrize("fluid", COOLANTS)
def test_states_beyond_the_table_are_flagged_and_finite(table, fluid):
    t = table(fluid)
    p_high, p_low = 0.5 * (t.p_critical + P_MAX), 0.5 * (t.p_critical + P_MIN)
    h = at(t, 0.9 * t.T_critical, p_high)["h"]
    bar = tb.isobar(t, p_high)
    liquid = tb.isobar(t, p_low)
    cases = [
        (h, 0.99 * P_MIN, tb.FLAG_OUTSIDE),
        (h, 1.01 * P_MAX, tb.FLAG_OUTSIDE),
        (h, math.nan, tb.FLAG_OUTSIDE),
        (math.nan, p_high, tb.FLAG_OUTSIDE),
        (bar.high + 1e3, p_high, tb.FLAG_OUTSIDE),
        (bar.low - 1e3, p_high, tb.FLAG_TOO_COLD),
        (liquid.low - 1e3, p_low, tb.FLAG_TOO_COLD),
        (liquid.high + 1e3, p_low, tb.FLAG_TWO_PHASE),
    ]
    for enthalpy, p, flag in cases:
        found = tb.coolant_hp(t, enthalpy, p)
        assert found[5] == flag, (enthalpy, p)
        assert np.all(np.isfinite(found))
    # up to 1.5 times the equation's own maximum its extrapolation is used, and said
    assert t.T_top == pytest.approx(min(1.5 * t.T_max, coolant.T_TOP))
    if t.T_top > t.T_max:
        for T, flag in (
            (0.999 * t.T_max, tb.FLAG_INSIDE),
            (1.001 * t.T_max, tb.FLAG_EXTRAPOLATED),
            (0.999 * t.T_top, tb.FLAG_EXTRAPOLATED),
            (1.001 * t.T_top, tb.FLAG_OUTSIDE),
        ):
            assert tb.coolant_h(t, T, p_high)[1] == flag


@pytest.mark.parametrize("row", DATA["melting"], ids=lambda r: f"{r['fluid']} {r['p_Pa']:.0e} Pa")
def test_no_state_below_the_melting_line(table, row):
    t = table(row["fluid"])
    assert tb.coolant_h(t, row["T_K"] - 0.2, row["p_Pa"])[1] == tb.FLAG_TOO_COLD
    assert tb.coolant_h(t, row["T_K"] + 0.2, row["p_Pa"])[1] == tb.FLAG_INSIDE


# --- refusals ----------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "fluid", ["nitrous-oxide", "RP-1", "hydrogen-peroxide", "Methane", "n-dodecane/n-decane", ""]
)
def test_an_unknown_coolant_is_refused_with_those_known(fluid):
    with pytest.raises(ValueError, match=f'no coolant "{fluid}"; known: hydrogen, methane'):
        coolant_table(fluid)


def test_a_fluid_without_transport_data_gives_no_table(monkeypatch):
    monkeypatch.setitem(COOLANTS, "nitrous-oxide", "NitrousOxide")
    with pytest.raises(ValueError, match="model is not available"):
        coolant_table("nitrous-oxide")


# --- cache -------------------------------------------------------------------------------------
def test_a_table_read_back_is_the_table_built(table, monkeypatch):
    first = table("methane")

    def never(name):
        raise AssertionError(name)

    monkeypatch.setattr(coolant, "_build", never)
    coolant._table.cache_clear()  # from the disk, not from memory
    again = coolant_table("methane")
    for name, value in first._asdict().items():
        np.testing.assert_array_equal(getattr(again, name), value)


def test_every_row_has_a_source():
    path = Path(coolant.__file__).parents[1] / "data" / "sources.toml"
    known = tomllib.loads(path.read_text())
    rows = [r for v in DATA.values() for r in (v if isinstance(v, list) else [v])]
    assert {row["source"] for row in rows} <= set(known)

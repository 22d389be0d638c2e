"""What is known of coolants in words only: directions, limits, levels. No curve was at hand."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np

from regen.coolant import table as coolant
from regen.coolant.table import coolant_table
from regen.physics import coolside
from regen.physics import tables as tb
from regen.physics.burnout import hall_mudawar_outlet
from tests.published.ledger import Window, judge

COKING = tomllib.loads((Path(coolant.__file__).parents[1] / "data" / "coking.toml").read_text())

# "Almost independent of pressure", over 10 to 25 MPa.
FLAT = (0.9, 1.1)
# "Agrees with Dittus and Boelter": that form is good to 25 %.
AGREES = (0.75, 1.25)
# Another geometry, one side heated, and water's correlation.
FACTOR_TWO = 2.0


def film(fluid, T, p, G, D, T_wall, form):
    """Film coefficient [W/(m2 K)] in a tube, properties of the program's table."""
    table = coolant_table(fluid)
    h, flag = tb.coolant_h(table, T, p)
    assert flag == tb.FLAG_INSIDE
    _, _, mu, k, cp, _ = tb.coolant_hp(table, h, p)
    h_w, _ = tb.coolant_h(table, T_wall, p)
    _, _, mu_w, k_w, cp_w, _ = tb.coolant_hp(table, h_w, p)
    Re, Pr, Pr_w = G * D / mu, mu * cp / k, mu_w * cp_w / k_w
    if form == "gnielinski":
        Nu = coolside.gnielinski(Re, Pr, Pr_w)
    elif form == "dittus_boelter":
        Nu = coolside.dittus_boelter(Re, Pr)
    else:
        Nu = coolside.taylor(Re, Pr, T_wall / T, 40.0)
    return Nu * k / D


def kerosene(T=350.0, p=15e6, G=20e3):
    return film("n-dodecane", T, p, G, 1e-3, T + 100.0, "gnielinski")


def trend_windows():
    source, line = "kerosene_small_tube", "kerosene (n-dodecane here) in a 1 mm tube: film "
    series = f"{line}coefficient over that at 20 000 kg/(m2 s), 350 K, 15 MPa"
    base, up = kerosene(), (1.0, np.inf)
    for point, ours, (low, high), why in (
        ("flow 8600", base / kerosene(G=8600.0), up, "rises with flow"),
        ("flow 51 600", kerosene(G=51600.0) / base, up, "rises with flow"),
        ("inlet 450 K", kerosene(T=450.0) / base, up, "rises with inlet temperature"),
        ("10 MPa", kerosene(p=10e6) / base, FLAT, "nearly independent of pressure"),
        ("25 MPa", kerosene(p=25e6) / base, FLAT, "nearly independent of pressure"),
    ):
        yield Window(source, f"{series}: {why}", point, low, high, ours, "abstract only")
    # subcooled liquid below its critical pressure, wall below saturation
    state = ("hydrogen", 22.0, 0.7e6, 3000.0, 3e-3, 26.0)
    ratio = film(*state, "taylor") / film(*state, "dittus_boelter")
    yield Window(
        "tatsumoto_hydrogen",
        "liquid hydrogen at 0.7 MPa: the hydrogen form over the general one", "22 K, wall 26 K",
        *AGREES, ratio, "without boiling as Dittus and Boelter's form",
    )  # fmt: skip
    for fluid in ("n-dodecane", "propane"):
        yield Window(
            "roback1981", "coking limit of the coolant-side wall", fluid, 422.0, 600.0,
            COKING[fluid]["value"], "deposits are substantial from 600 K; 422 K was their coldest",
            "K",
        )  # fmt: skip


def test_coolants_follow_the_directions_reported():
    judge(trend_windows())


def test_propane_is_given_no_better_limit_than_kerosene():
    # it left more deposit at the same wall (roback1981)
    assert COKING["propane"]["value"] <= COKING["n-dodecane"]["value"]


# Highest and lowest of the burnout fluxes, each with a hydraulic diameter and the end of the mass
# flux range; the heated length is not known, so the outlet is taken as saturated liquid.
NITROGEN = {"p": (1.38e6, 1.59e6), "G": (3805.0, 14295.0), "D": (1.8e-3, 2.5e-3)}
NITROGEN_FLUX = (0.307e6, 0.768e6)


def nitrogen_flux(p, G, D):
    """Burnout of saturated liquid nitrogen by water's outlet form [W/m2]."""
    import CoolProp
    from CoolProp.CoolProp import AbstractState

    state = AbstractState("HEOS", "Nitrogen")
    state.update(CoolProp.PQ_INPUTS, p, 1.0)
    h_v, rho_v = state.hmass(), state.rhomass()
    state.update(CoolProp.PQ_INPUTS, p, 0.0)
    return hall_mudawar_outlet(
        G=G, D=D, x_out=0.0, rho_l=state.rhomass(), rho_v=rho_v, h_fg=h_v - state.hmass(),
        sigma=state.surface_tension(),
    )  # fmt: skip


def nitrogen_windows():
    found = [
        nitrogen_flux(p, G, D) for p in NITROGEN["p"] for G in NITROGEN["G"] for D in NITROGEN["D"]
    ]
    for what, ours, theirs in zip(
        ("lowest", "highest"), (min(found), max(found)), NITROGEN_FLUX, strict=True
    ):
        yield Window(
            "nitrogen_channels2023", "burnout of liquid nitrogen in channels heated on one side",
            what, theirs / FACTOR_TWO / 1e6, theirs * FACTOR_TWO / 1e6, ours / 1e6,
            "a level, no more: heated length unknown, outlet taken as saturated", "MW/m2",
        )  # fmt: skip


def test_burnout_of_nitrogen_is_of_the_level_reported():
    judge(nitrogen_windows())


def test_more_flow_and_a_narrower_channel_raise_it():
    at = {"p": NITROGEN["p"][0], "G": NITROGEN["G"][0], "D": NITROGEN["D"][0]}
    assert nitrogen_flux(**{**at, "G": 2 * at["G"]}) > nitrogen_flux(**at)
    assert nitrogen_flux(**{**at, "D": 2 * at["D"]}) < nitrogen_flux(**at)

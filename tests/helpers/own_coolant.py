"""Tables of a coolant as a user would write them, from an equation of state."""

from __future__ import annotations

import numpy as np

HEADER = "T [K], density [kg/m3], heat_capacity [J/(kg K)], viscosity [uPa s], conductivity [W/m/K]"


def _state(name):
    from CoolProp.CoolProp import AbstractState

    return AbstractState("HEOS", name)


def _row(state, T, p):
    import CoolProp

    state.update(CoolProp.PT_INPUTS, p, T)
    mu, k = 1e6 * state.viscosity(), state.conductivity()
    return state.rhomass(), state.cpmass(), mu, k, state.hmass() / 1e3


def isobaric(name, p, temperatures, *, enthalpy=False):
    """Text of a table at one pressure."""
    state = _state(name)
    heat = "enthalpy [kJ/kg]" if enthalpy else "heat_capacity [J/(kg K)]"
    lines = [HEADER.replace("heat_capacity [J/(kg K)]", heat)]
    for T in temperatures:
        rho, cp, mu, k, h = _row(state, T, p)
        lines.append(f"{T:.6g}, {rho:.8g}, {h if enthalpy else cp:.8g}, {mu:.8g}, {k:.8g}")
    return "\n".join(lines) + "\n"


def grid(name, pressures, temperatures):
    """Text of a table over pressure and temperature."""
    state = _state(name)
    lines = ["p [bar], " + HEADER]
    for p in pressures:
        for T in temperatures:
            rho, cp, mu, k, _ = _row(state, T, p)
            lines.append(f"{p / 1e5:.6g}, {T:.6g}, {rho:.9g}, {cp:.8g}, {mu:.8g}, {k:.8g}")
    return "\n".join(lines) + "\n"


def saturation(name, pressures):
    """Text of a table of saturation."""
    import CoolProp

    state = _state(name)
    lines = ["p [bar], T [K], latent_heat [kJ/kg], vapour_density [kg/m3], surface_tension [N/m]"]
    for p in pressures:
        state.update(CoolProp.PQ_INPUTS, p, 1.0)
        h_v, rho_v = state.hmass(), state.rhomass()
        state.update(CoolProp.PQ_INPUTS, p, 0.0)
        latent = (h_v - state.hmass()) / 1e3
        row = f"{p / 1e5:.6g}, {state.T():.8g}, {latent:.8g}, {rho_v:.8g}"
        lines.append(f"{row}, {state.surface_tension():.8g}")
    return "\n".join(lines) + "\n"


WATER_T = np.arange(275.0, 561.0, 15.0)
WATER_P = 1e5 * np.geomspace(1.0, 66.0, 15)

"""Coolant-side forms at solved stations, called by themselves."""

from __future__ import annotations

import numpy as np

from regen.checks.flags import inputs
from regen.physics import arrays as A
from regen.physics.registry import Correlation
from regen.physics.tables import (
    coolant_h,
    coolant_hp,
    isobar,
    pseudo_critical_T,
    saturation_temperature,
)
from tests.property.trends.runs import Run


def _film_state(run: Run, T: float, p: float, bulk: tuple[float, ...]) -> dict[str, float]:
    """Return Re and Pr at the film temperature, which belong to the bulk's velocity."""
    table = run.prepared.coolant
    h, _ = coolant_h(table, T, p)
    _, rho, mu, k, cp, _ = coolant_hp(table, h, p)
    Re, rho_b, mu_b = bulk
    return {"Re_f": Re * rho * mu_b / (rho_b * mu), "Pr_f": mu * cp / k, "k_f": k}


def state(
    run: Run, i: int, given: dict[str, np.ndarray] | None = None, T_w: float | None = None
) -> dict[str, float]:
    """Return all arguments of the coolant-side forms at a solved station.

    ``given`` is what ``flags.inputs`` finds; ``T_w`` [K] stands for the wetted wall's own.
    """
    if given is None:
        given = inputs(run.prepared, run.marched, np.arange(run.x.size))
    table = run.prepared.coolant
    row = run.marched.station[i]
    p, h = row[A.O_P_COOLANT], row[A.O_ENTHALPY]
    T, rho, mu, k, cp, _ = coolant_hp(table, h, p)
    bar = isobar(table, p)
    T_w = float(row[A.O_T_WALL_COLD] if T_w is None else T_w)
    if bar.dense == 0:  # convection there is asked for the liquid
        T_w = min(T_w, saturation_temperature(table, bar) - 1e-3)
    h_w, _ = coolant_h(table, T_w, p)
    _, rho_w, mu_w, k_w, cp_w, _ = coolant_hp(table, h_w, p)
    found = {name: float(values[i]) for name, values in given.items()}
    film = _film_state(run, 0.5 * (T_w + T), p, (found["Re"], rho, mu))
    return {
        **found,
        **film,
        "mu_b": mu,
        "mu_w": mu_w,
        "k_b": k,
        "k_w": k_w,
        "cp_b": cp,
        "cp_bar": (h_w - h) / (T_w - T),
        "rho_b": rho,
        "rho_w": rho_w,
        "Pr_w": mu_w * cp_w / k_w,
        "T_w": T_w,
        "T_ratio": max(T_w / T, 1.0),
        "T_pc": pseudo_critical_T(table, p) if bar.dense == 1 else table.T_critical,
    }


def nusselt(form: Correlation, at: dict[str, float]) -> float:
    """Return a form's Nusselt number on the bulk's conductivity."""
    value = form.function(**{key: at[key] for key in form.arguments})
    share = {"bulk": 1.0, "film": at["k_f"] / at["k_b"], "wall": at["k_w"] / at["k_b"]}
    return float(value * share[form.traits.get("basis", "bulk")])

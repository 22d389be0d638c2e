"""What the checks must know of the coolant: saturation, its properties' end, burnout flux."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from regen.physics import tables
from regen.physics.burnout import hall_mudawar_inlet, hall_mudawar_outlet
from regen.physics.registry import CORRELATIONS
from regen.result import Array


class Saturation(NamedTuple):
    """Saturation state: temperature [K], enthalpies [J/kg], densities [kg/m3], tension [N/m]."""

    T: float
    h_l: float
    h_v: float
    rho_l: float
    rho_v: float
    sigma: float


class State(NamedTuple):
    """Liquid at a temperature and a pressure: enthalpy [J/kg] and density [kg/m3]."""

    h: float
    rho: float


@dataclass(frozen=True, slots=True)
class CoolantFacts:
    """Properties of one coolant. ``saturation`` takes p [Pa]; ``state`` takes T [K], p [Pa]."""

    fluid: str
    p_critical: float
    T_max: float
    saturation: Callable[[float], Saturation]
    state: Callable[[float, float], State]

    def highest_temperature(self, p: Array) -> Array:
        """Return the bulk temperature the coolant may come to at each pressure.

        Parameters
        ----------
        p : ndarray
            Pressure (S,) [Pa].

        Returns
        -------
        ndarray
            Saturation below the critical pressure, the end of the properties above (S,) [K].
        """
        return np.array(
            [self.saturation(float(v)).T if v < self.p_critical else self.T_max for v in p]
        )


def facts_of(fluid: str, table: tables.CoolantTable) -> CoolantFacts:
    """Return the facts of a coolant from its property table.

    Parameters
    ----------
    fluid : str
        Coolant name.
    table : CoolantTable
        Its table [-].

    Returns
    -------
    CoolantFacts
        Lookups in that table.
    """

    def state(T: float, p: float) -> State:
        h = tables.coolant_h(table, T, p)[0]
        return State(h, tables.coolant_hp(table, h, p)[1])

    return CoolantFacts(
        fluid=fluid,
        p_critical=table.p_critical,
        T_max=table.T_max,
        saturation=lambda p: Saturation(*tables.saturation(table, p)),
        state=state,
    )


@dataclass(frozen=True, slots=True, eq=False)
class BurnoutFlux:
    """Critical heat flux [W/m2] by two forms and whether both are in range, each (n,)."""

    inlet: Array
    outlet: Array
    in_range: NDArray[np.bool_]

    @property
    def governing(self) -> Array:
        """The lower of the two forms (n,) [W/m2]."""
        return np.minimum(self.inlet, self.outlet)

    def note(self, q: Array) -> str:
        """Return both forms, in words, at the station where the flux comes closest.

        Parameters
        ----------
        q : ndarray
            Flux at the slot floor (n,) [W/m2].

        Returns
        -------
        str
            For the margin.
        """
        if not q.size:
            return ""
        at = int(np.argmax(q / self.governing))
        text = (
            f"critical flux {self.inlet[at] / 1e6:.3g} MW/m2 by the inlet form,"
            f" {self.outlet[at] / 1e6:.3g} by the outlet form; the lower governs"
        )
        out = int(np.count_nonzero(~self.in_range))
        return f"{text}; outside the correlation's range at {out} stations" if out else text


def burnout_flux(
    facts: CoolantFacts, stations: Mapping[str, Array], at: NDArray[np.int64]
) -> BurnoutFlux:
    """Return the critical heat flux at stations below the critical pressure.

    Parameters
    ----------
    facts : CoolantFacts
        The coolant.
    stations : mapping
        Columns of ``result.STATION_COLUMNS`` (S,).
    at : ndarray of int
        Numbers of the stations (n,) [-].

    Returns
    -------
    BurnoutFlux
        Both forms of Hall and Mudawar.

    Notes
    -----
    The inlet form is the better one in uniformly heated tubes, but knows the heating only as a
    length; the outlet form knows the bulk state that the march found at the station. A chamber
    heats unevenly, so neither is sure and the lower one governs. Diameter is the hydraulic one;
    all four walls are taken as heated at the slot floor's flux, which is the safe side.
    """
    s = {name: np.asarray(column) for name, column in stations.items()}
    h_in = _inlet_enthalpies(facts, s)
    D = 2.0 * s["channel_width_m"] * s["channel_depth_m"]
    D = D / (s["channel_width_m"] + s["channel_depth_m"])
    rows = [_row(facts, s, int(i), float(D[i]), h_in[s["circuit"][i]]) for i in at]
    inlet, outlet, inside = (
        (np.array(column) for column in zip(*rows, strict=True))
        if rows
        else (
            np.empty(0),
            np.empty(0),
            np.empty(0),
        )
    )
    return BurnoutFlux(inlet, outlet, inside.astype(bool))


def _inlet_enthalpies(facts: CoolantFacts, s: Mapping[str, Array]) -> dict[float, float]:
    """Return the enthalpy of the coolant at the inlet of each circuit [J/kg]."""
    found = {}
    for number in np.unique(s["circuit"]):
        rows = np.flatnonzero(s["circuit"] == number)
        first = rows[np.argmin(s["passage_length_m"][rows])]
        state = facts.state(float(s["T_coolant_K"][first]), float(s["p_coolant_Pa"][first]))
        found[float(number)] = state.h
    return found


def _row(
    facts: CoolantFacts, s: Mapping[str, Array], i: int, D: float, h_in: float
) -> tuple[float, float, bool]:
    p = float(s["p_coolant_Pa"][i])
    T_sat, h_l, h_v, rho_l, rho_v, sigma = facts.saturation(p)
    h_fg = h_v - h_l
    bulk = facts.state(float(s["T_coolant_K"][i]), p)
    G = bulk.rho * float(s["v_coolant_m_s"][i])
    x_in, x_out = (h_in - h_l) / h_fg, (bulk.h - h_l) / h_fg
    length = float(s["passage_length_m"][i])
    inlet = hall_mudawar_inlet(G, D, length, x_in, rho_l, rho_v, h_fg, sigma)
    outlet = hall_mudawar_outlet(G, D, x_out, rho_l, rho_v, h_fg, sigma)
    inside = CORRELATIONS["hall_mudawar_outlet"].in_range(G=G, D=D, x_out=x_out)
    return inlet, outlet, bool(inside)

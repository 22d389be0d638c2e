"""What the checks must know of the coolant: saturation, its properties' end, burnout flux."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from regen.checks.findings import text
from regen.design import Coolant
from regen.physics import lookups, tables
from regen.physics.burnout import hall_mudawar_inlet, hall_mudawar_outlet
from regen.physics.registry import CORRELATIONS
from regen.result import Array, Mask


class Saturation(NamedTuple):
    """Saturation (...,): temperature [K], enthalpies [J/kg], densities [kg/m3], tension [N/m]."""

    T: Array
    h_l: Array
    h_v: Array
    rho_l: Array
    rho_v: Array
    sigma: Array


class State(NamedTuple):
    """Liquid at a temperature and a pressure (...,): enthalpy [J/kg] and density [kg/m3]."""

    h: Array
    rho: Array


@dataclass(frozen=True, slots=True)
class CoolantFacts:
    """Properties of one coolant. ``saturation`` takes p [Pa]; ``state`` takes T [K], p [Pa].

    Below ``may_boil_below`` [Pa] it may boil with nothing known of it.
    """

    fluid: str
    p_critical: float
    T_max: float
    saturation: Callable[[Array], Saturation]
    state: Callable[[Array, Array], State]
    may_boil_below: float = 0.0

    def highest_temperature(self, p: Array) -> Array:
        """Return the bulk temperature the coolant may come to at each pressure.

        Parameters
        ----------
        p : ndarray
            Pressure (...,) [Pa].

        Returns
        -------
        ndarray
            Saturation below the critical pressure, the end of the properties above (...,) [K].
        """
        below = p < self.p_critical
        if not below.any():
            return np.full(p.shape, self.T_max)
        return np.where(below, self.saturation(p).T, self.T_max)


def looked_up(
    lookup: Callable[..., None], table: tables.CoolantTable, count: int, *at: Array
) -> list[Array]:
    """Return ``count`` properties [SI], each of one shape with the states ``at`` [K, Pa]."""
    out = np.empty((at[0].size, count))
    lookup(table, *map(np.ravel, at), out)
    return [column.reshape(at[0].shape) for column in out.T]


def facts_of(feed: Coolant, table: tables.CoolantTable) -> CoolantFacts:
    """Return the facts of a coolant from its property table.

    Parameters
    ----------
    feed : Coolant
        Names the fluid.
    table : CoolantTable
        Its table [-].

    Returns
    -------
    CoolantFacts
        Lookups in that table.
    """

    def saturation(p: Array) -> Saturation:
        return Saturation(*looked_up(lookups.saturations, table, 6, p))

    def state(T: Array, p: Array) -> State:
        return State(*looked_up(lookups.liquid_states, table, 2, T, p))

    below = feed.may_boil_below
    return CoolantFacts(feed.fluid, table.p_critical, table.T_max, saturation, state, below)


@dataclass(frozen=True, slots=True, eq=False)
class BurnoutFlux:
    """Critical heat flux [W/m2] by two forms and whether both are in range, each (..., S)."""

    inlet: Array
    outlet: Array
    in_range: Mask

    @property
    def governing(self) -> Array:
        """The lower of the two forms (..., S) [W/m2]."""
        return np.minimum(self.inlet, self.outlet)

    def note(self, q: Array, asked: Mask) -> str:
        """Return both forms at the station where the flux comes closest.

        Parameters
        ----------
        q : ndarray
            Flux at the slot floor (S,) [W/m2].
        asked : ndarray of bool
            Stations that count (S,).

        Returns
        -------
        str
            For the margin.
        """
        if not asked.any():
            return ""
        at = int(np.argmax(np.where(asked, q / self.governing, -np.inf)))
        both = {"inlet": self.inlet[at] / 1e6, "outlet": self.outlet[at] / 1e6}
        out = int(np.count_nonzero(asked & ~self.in_range))
        beyond = f"; outside the correlation's range at {out} stations" if out else ""
        return text("row: burnout", **both) + beyond


def burnout_flux(facts: CoolantFacts, stations: Mapping[str, Array]) -> BurnoutFlux:
    """Return the critical heat flux at stations below the critical pressure.

    Parameters
    ----------
    facts : CoolantFacts
        The coolant.
    stations : mapping
        Columns of ``result.STATION_COLUMNS`` (S,), or (L, S) of many designs.

    Returns
    -------
    BurnoutFlux
        Both forms of Hall and Mudawar; NaN at and above the critical pressure.

    Notes
    -----
    The inlet form is the better one in uniformly heated tubes, but knows the heating only as a
    length; the outlet form knows the bulk state that the march found at the station. A chamber
    heats unevenly, so neither is sure and the lower one governs. Diameter is the hydraulic one;
    all four walls are taken as heated at the slot floor's flux, which is the safe side.
    """
    s = {name: np.asarray(column) for name, column in stations.items()}
    at = s["p_coolant_Pa"] < facts.p_critical
    p, w, d = (s[n][at] for n in ("p_coolant_Pa", "channel_width_m", "channel_depth_m"))
    D = 2.0 * w * d / (w + d)
    T_sat, h_l, h_v, rho_l, rho_v, sigma = facts.saturation(p)
    h_fg = h_v - h_l
    bulk = facts.state(s["T_coolant_K"][at], p)
    G = bulk.rho * s["v_coolant_m_s"][at]
    x_in, x_out = (_inlet_enthalpy(facts, s)[at] - h_l) / h_fg, (bulk.h - h_l) / h_fg
    length = s["passage_length_m"][at]
    flux = np.full((3, *at.shape), np.nan)
    flux[0, at] = _INLET(G, D, length, x_in, rho_l, rho_v, h_fg, sigma)
    flux[1, at] = _OUTLET(G, D, x_out, rho_l, rho_v, h_fg, sigma)
    flux[2, at] = CORRELATIONS["hall_mudawar_outlet"].in_range(G=G, D=D, x_out=x_out)
    return BurnoutFlux(flux[0], flux[1], flux[2] == 1.0)


_INLET = np.vectorize(hall_mudawar_inlet, otypes=[float])
_OUTLET = np.vectorize(hall_mudawar_outlet, otypes=[float])


def _inlet_enthalpy(facts: CoolantFacts, s: Mapping[str, Array]) -> Array:
    """Return the enthalpy of the coolant at the inlet of each station's circuit (..., S) [J/kg]."""
    circuit, h_in = s["circuit"], np.empty(s["circuit"].shape)
    for number in np.unique(circuit):
        length = np.where(circuit == number, s["passage_length_m"], np.inf)
        first = np.argmin(length, axis=-1)[..., None]
        T, p = (np.take_along_axis(s[n], first, axis=-1) for n in ("T_coolant_K", "p_coolant_Pa"))
        h_in = np.where(circuit == number, facts.state(T, p).h, h_in)
    return h_in

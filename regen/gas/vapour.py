"""Vapour of a film's fluid: its enthalpy on the scale of heats of formation, and saturation."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from regen.gas.feeds import dilute_enthalpy, on_scale, species_of, state_of
from regen.physics.arrays import Array
from regen.storage.cache import cached, library

VERSION = 1
TEMPERATURES = np.linspace(200.0, 6000.0, 291)
"""Nodes of the vapour's enthalpy [K]; those of the species data of the hot gas, 20 K apart."""

SATURATION_POINTS = 80


@dataclass(frozen=True)
class Vapour:
    """Enthalpy ``h`` (N,) [J/kg] of the dilute vapour at ``TEMPERATURES``, and its saturation.

    ``p`` (P,) [Pa] rises to close below ``p_critical``; ``T_sat`` [K] and ``h_sat`` [J/kg], that
    of the saturated vapour, belong to it.
    """

    h: Array
    p: Array
    T_sat: Array
    h_sat: Array
    p_critical: float

    def saturation(self, p: ArrayLike) -> tuple[Array, Array]:
        """Return saturation temperature [K] and enthalpy of the vapour [J/kg] at ``p`` [Pa]."""
        T, h = (np.interp(np.log(p), np.log(self.p), line) for line in (self.T_sat, self.h_sat))
        return T, h


def vapour(name: str) -> Vapour:
    """Return the vapour of a film's fluid, from the cache if it was built before.

    One source for all of them: the ideal-gas part of the fluid's equation of state, which rests
    on the frequencies of the molecule and so holds far above the equation's own range (within
    2.5 % of the species data of the hot gas at 4000 K), and its saturation. The fluid neither
    burns nor cracks: an unreacted film.
    """
    species = species_of(name)
    key = {
        "fluid": name,
        "formation": [species.formation, species.fluid],
        "nodes": [TEMPERATURES[0], TEMPERATURES[-1], TEMPERATURES.size, SATURATION_POINTS],
        "library": library("CoolProp"),
    }
    stored = cached("vapour", VERSION, key, lambda: _build(name))
    p_critical = float(stored.pop("p_critical"))
    return Vapour(**stored, p_critical=p_critical)


def _build(name: str) -> dict[str, Array]:
    import CoolProp

    species = species_of(name)
    fluid = str(species.fluid)
    state = state_of(fluid)
    p_critical = float(state.p_critical())
    low = max(float(state.trivial_keyed_output(CoolProp.iP_triple)) * 1.01, 1e3)
    # denser towards the critical point, where the heat of evaporation vanishes as a square root
    roots = np.linspace(np.log(p_critical / low) ** 0.5, 0.01, SATURATION_POINTS)
    pressures = p_critical * np.exp(-(roots**2))
    line = np.empty((SATURATION_POINTS, 2))
    for n, p in enumerate(pressures):
        state.update(CoolProp.PQ_INPUTS, float(p), 1.0)
        line[n] = state.T(), state.hmolar()
    dilute = np.array([dilute_enthalpy(fluid, float(T)) for T in TEMPERATURES])
    return {
        "h": on_scale(species, fluid, dilute),
        "p": pressures,
        "T_sat": line[:, 0],
        "h_sat": on_scale(species, fluid, line[:, 1]),
        "p_critical": np.asarray(p_critical),
    }

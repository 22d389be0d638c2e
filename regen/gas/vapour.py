"""Vapour of a film's fluid: its enthalpy on the scale of heats of formation, and saturation."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.metadata import version

import numpy as np
from numpy.typing import NDArray

from regen.gas.feeds import saturation_line, species_of, vapour_enthalpy
from regen.storage.cache import cached

Array = NDArray[np.float64]

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

    def saturation(self, p: Array) -> tuple[Array, Array]:
        """Return saturation temperature [K] and enthalpy of the vapour [J/kg] at ``p`` [Pa]."""
        at = np.log(p)
        nodes = np.log(self.p)
        return np.interp(at, nodes, self.T_sat), np.interp(at, nodes, self.h_sat)


def vapour(name: str) -> Vapour:
    """Return the vapour of a film's fluid, from the cache if it was built before.

    One source for all of them: the ideal-gas part of the fluid's equation of state, which rests
    on the frequencies of the molecule and so holds far above the equation's own range (within
    2.5 % of the species data of the hot gas at 4000 K), and its saturation. The fluid neither
    burns nor cracks: an unreacted film.
    """
    species = species_of(name)

    def build() -> dict[str, NDArray[np.float64]]:
        p, T, h, p_critical = saturation_line(name, SATURATION_POINTS)
        return {
            "h": vapour_enthalpy(name, TEMPERATURES),
            "p": p,
            "T_sat": T,
            "h_sat": h,
            "p_critical": np.asarray(p_critical),
        }

    key = {
        "fluid": name,
        "formation": [species.formation, species.fluid],
        "nodes": [TEMPERATURES[0], TEMPERATURES[-1], TEMPERATURES.size, SATURATION_POINTS],
        "library": version("CoolProp"),
    }
    stored = cached("vapour", VERSION, key, build)
    p_critical = float(stored.pop("p_critical"))
    return Vapour(**stored, p_critical=p_critical)

"""Faraday's law: what a current deposits. Efficiency multiplies thickness and mass."""

from dataclasses import dataclass
from functools import cache

from regen.shop.plating.baths import facts

FARADAY = 96485.33
"""Charge of a mole of electrons [C/mol]; faraday_law in data/sources.toml."""


@dataclass(frozen=True, slots=True)
class Metal:
    """A metal that is deposited: molar mass [kg/mol], electrons an ion [-], density [kg/m3]."""

    molar_mass: float
    valence: float
    density: float

    @property
    def equivalent(self) -> float:
        """Mass deposited by a charge at efficiency 1 [kg/C]."""
        return self.molar_mass / (self.valence * FARADAY)

    def growth(self, current_density: float, efficiency: float) -> float:
        """Return how fast a layer grows [m/s] by a current density [A/m2]."""
        return self.equivalent * current_density * efficiency / self.density

    def charge(self, mass: float, efficiency: float) -> float:
        """Return the charge [C] that deposits a mass [kg]."""
        return mass / (self.equivalent * efficiency)


@cache
def metal(name: str) -> Metal:
    """Return the numbers of "nickel" or "copper"."""
    return Metal(**{key: fact.value for key, fact in facts("metals", name).items()})

"""Propellants as fed: what atoms and what enthalpy a kilogram brings to the chamber."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from regen.design import Propellants
from regen.errors import RangeError
from regen.sources import read_data
from regen.storage.cache import cached, library
from regen.texts import text

Value = TypeVar("Value", float, NDArray[np.float64])

VERSION = 1

# kg/mol; the values Cantera uses, so that masses and element balances agree exactly
ATOMIC_MASS = {"H": 1.008e-3, "C": 12.011e-3, "N": 14.007e-3, "O": 15.999e-3}

T_REFERENCE = 298.15  # K


@dataclass(frozen=True, slots=True)
class Species:
    """A pure propellant: atoms a mole, where its enthalpy comes from, and the states it has.

    ``formation`` [J/mol] is the enthalpy of the ideal gas at 298.15 K, or, where it is
    ``assigned``, of the liquid, which is the only state it is fed in. ``fluid`` names the equation
    of state that carries the enthalpy to the feed temperature; None: ``liquid_cp`` [J/(mol K)].
    ``storage`` is the usual storage temperature of the liquid [K], ``liquid_range`` the
    temperatures at which a liquid without an equation of state is fed [K].
    """

    atoms: Mapping[str, float]
    formation: float
    source: str
    mark: str
    storage: float
    fluid: str | None = None
    assigned: bool = False
    liquid_cp: float = 0.0
    liquid_range: Sequence[float] = (0.0, 0.0)

    @property
    def gas(self) -> bool:
        """Whether it can be fed as a gas."""
        return not self.assigned

    @property
    def molar_mass(self) -> float:
        """Molar mass [kg/mol]."""
        return sum(ATOMIC_MASS[e] * n for e, n in self.atoms.items())


# para-hydrogen at 298.15 K lies this far below normal hydrogen [J/mol], key para_offset
PARA_OFFSET = -57.6


SPECIES, FILMS, DILUENTS = (
    {name: Species(**entry) for name, entry in read_data("propellants.toml")[kind].items()}
    for kind in ("propellants", "films", "diluents")
)
"""Propellants; fluids that cool as a film and are no propellant; what dilutes a propellant."""


PEROXIDE_CONCENTRATION = (0.5, 1.0)  # below, the mixture does not evaporate itself

ALCOHOLS = ("ethanol", "isopropanol")
"""Fuels that mix with water in every proportion."""

MOST_WATER = 0.5


@dataclass(frozen=True, slots=True)
class Reactants:
    """One kilogram of propellants: moles of atoms [mol/kg], enthalpy [J/kg], fuel share [-]."""

    elements: Mapping[str, float]
    enthalpy: float
    fuel_fraction: float


def species_of(name: str) -> Species:
    """Return a propellant, or a fluid that is injected as a film only."""
    return SPECIES[name] if name in SPECIES else FILMS[name]


def storage_temperature(name: str, phase: str) -> float:
    """Return the usual temperature [K] of a propellant or film as fed."""
    return T_REFERENCE if phase == "gas" else species_of(name).storage


@cache
def state_of(fluid: str) -> Any:
    """Return the equation of state of a fluid, one for all: set it before reading it."""
    from CoolProp.CoolProp import AbstractState

    return AbstractState("HEOS", fluid)


@cache
def _reference(fluid: str, liquid: bool) -> float:
    """Molar enthalpy at 298.15 K: of the ideal gas, or of the liquid at one atmosphere."""
    import CoolProp

    state = state_of(fluid)
    if liquid:
        state.update(CoolProp.PT_INPUTS, 101325.0, T_REFERENCE)
        return float(state.hmolar())
    return dilute_enthalpy(fluid, T_REFERENCE)


def dilute_enthalpy(fluid: str, T: float) -> float:
    """Return the molar enthalpy [J/mol] of a fluid's dilute vapour at T [K]."""
    import CoolProp

    state = state_of(fluid)
    state.specify_phase(CoolProp.iphase_gas)
    state.update(CoolProp.DmolarT_INPUTS, 1e-6, T)
    enthalpy = float(state.hmolar())
    state.unspecify_phase()
    return enthalpy


def on_scale(species: Species, fluid: str, molar: Value) -> Value:
    """Bring molar enthalpies of an equation of state [J/mol] to heats of formation [J/kg]."""
    change = molar - _reference(fluid, species.assigned)
    if species.assigned:  # per kilogram of the stand-in: only the sensible part is borrowed
        return species.formation / species.molar_mass + change / float(state_of(fluid).molar_mass())
    offset = PARA_OFFSET if fluid == "ParaHydrogen" else 0.0
    return (species.formation + offset + change) / species.molar_mass


def _within(what: str, value: float, low: float, high: float, unit: str = "") -> None:
    if not low <= value <= high:
        given = {"what": what, "value": value, "unit": unit}
        raise RangeError(text("not accepted", **given, low=low, high=high))


def feed_enthalpy(
    name: str, phase: str, temperature: float | None, pressure: float, *, fixed: bool = False
) -> float:
    """Return the enthalpy [J/kg] of a pure propellant as fed, on the scale of heats of formation.

    ``temperature`` [K] None is the usual storage temperature; ``pressure`` [Pa] is that of a gas
    feed, or of the state when ``fixed``: the fuel arrives from the cooling channels in the state
    (temperature, pressure), whatever its phase. Raises ``RangeError`` if there is no such state.

    h = dHf(298.15 K, ideal gas) + h(T, p) - h(298.15 K, density to 0): the reference state of
    the equation of state cancels. A liquid is taken as saturated. Hydrogen is para-hydrogen as a
    liquid or from the channels (no time to convert) and normal hydrogen as a stored gas. Values
    are kept on disk: loading the equations of state takes seconds.
    """
    species = species_of(name)
    if phase == "gas" and not species.gas:
        raise RangeError(text("fed as a gas", name=name))
    T = storage_temperature(name, phase) if temperature is None else temperature
    if not 0.0 < T < 2000.0:
        raise RangeError(text("feed temperature", name=name, T=T))
    if species.fluid is None:
        if not fixed:
            _within(f"{name} fed at", T, *liquid_range(name), " K")
        return (species.formation + species.liquid_cp * (T - T_REFERENCE)) / species.molar_mass
    p = pressure if fixed or phase == "gas" else None
    key = {
        "propellant": name,
        "state": [phase, T, p, fixed],
        "formation": [species.formation, PARA_OFFSET, species.fluid],
        "library": library("CoolProp"),
    }
    stored = cached(
        "feed", VERSION, key, lambda: {"h": np.asarray(_enthalpy(name, phase, T, p, fixed))}
    )
    return float(stored["h"])


def liquid_range(name: str) -> tuple[float, float]:
    """Return the temperatures [K] between which a propellant can be fed as a liquid.

    Triple and critical point of the fluid that stands for it, or what is known of a liquid without
    an equation of state. Kept on disk.
    """
    fluid = species_of(name).fluid
    if fluid is None:
        low, high = species_of(name).liquid_range
        return low, high
    key = {"fluid": fluid, "library": library("CoolProp")}
    low, high = cached("liquid", 1, key, lambda: {"T": np.array(_ends(fluid))})["T"].tolist()
    return low, high


def _ends(fluid: str) -> tuple[float, float]:
    state = state_of(fluid)
    return float(state.Ttriple()), float(state.T_critical())


def _enthalpy(name: str, phase: str, T: float, p: float | None, fixed: bool) -> float:
    """Enthalpy [J/kg] by the equation of state; p None: the saturated liquid."""
    import CoolProp

    species = species_of(name)
    fluid = str(species.fluid)
    if fluid == "ParaHydrogen" and phase == "gas" and not fixed:
        fluid = "Hydrogen"
    state = state_of(fluid)
    low, high = _ends(fluid)
    if p is None and not low <= T < high:
        raise RangeError(text("no liquid", name=name, T=T, low=low, high=high))
    if p is not None and not fixed and (boiling := _boiling(state, p)) >= T:
        raise RangeError(text("no gas", name=name, T=T, p=p, boiling=boiling))
    try:
        if p is None:
            state.update(CoolProp.QT_INPUTS, 0.0, T)
        else:
            state.update(CoolProp.PT_INPUTS, p, T)
    except ValueError as error:
        at = "saturation" if p is None else f"{p / 1e5:.3g} bar"
        given = {"name": name, "phase": phase, "T": T, "at": at, "fluid": fluid, "error": error}
        raise RangeError(text("no state", **given, low=low, high=state.Tmax())) from error
    return on_scale(species, fluid, float(state.hmolar()))


def _boiling(state: Any, p: float) -> float:
    """Temperature [K] above which a fluid is a gas at p [Pa]: of boiling, else the critical one."""
    import CoolProp

    if p >= state.p_critical():
        return float(state.T_critical())
    triple = float(state.trivial_keyed_output(CoolProp.iP_triple))
    state.update(CoolProp.PQ_INPUTS, max(p, triple), 1.0)
    return float(state.T())


def reactants(
    propellants: Propellants, *, pressure: float, fuel_feed: tuple[float, float] | None = None
) -> Reactants:
    """Return atoms and enthalpy of one kilogram of propellants as fed.

    A gas is fed at the chamber ``pressure`` [Pa]; ``fuel_feed`` is the state (T [K], p [Pa]) of the
    fuel where it enters the cooling channels, None when it comes straight from its tank. Raises
    ``RangeError`` if mixture ratio, concentration or feed state are impossible.
    """
    ratio, concentration = propellants.mixture_ratio, propellants.oxidizer_concentration
    water = 1.0 - concentration
    _within("mixture_ratio", ratio, 0.05, 100.0)
    if water and propellants.oxidizer != "hydrogen-peroxide":
        oxidizer = propellants.oxidizer
        raise RangeError(text("oxidizer diluted", given=concentration, oxidizer=oxidizer))
    _within("oxidizer_concentration", concentration, *PEROXIDE_CONCENTRATION)
    fuel_water = propellants.fuel_water
    if fuel_water and (propellants.fuel not in ALCOHOLS or propellants.fuel_state != "liquid"):
        fed = {"fuel": propellants.fuel, "state": propellants.fuel_state}
        alcohols = " and ".join(ALCOHOLS)
        raise RangeError(text("fuel diluted", given=fuel_water, **fed, alcohols=alcohols))
    _within("fuel_water", fuel_water, 0.0, MOST_WATER)
    T_fuel, p_fuel = fuel_feed or (propellants.fuel_temperature, pressure)
    T_oxidizer, state = propellants.oxidizer_temperature, propellants.oxidizer_state
    phase, fixed = "liquid" if fuel_feed else propellants.fuel_state, fuel_feed is not None
    h_fuel = feed_enthalpy(propellants.fuel, phase, T_fuel, p_fuel, fixed=fixed)
    h_oxidizer = feed_enthalpy(propellants.oxidizer, state, T_oxidizer, pressure)
    atoms: dict[str, float] = {}
    fuel = 1.0 / (1.0 + ratio)
    rest = 1.0 - fuel
    h_fuel = _dilute(atoms, propellants.fuel, fuel, h_fuel, fuel_water, T_fuel)
    h_oxidizer = _dilute(atoms, propellants.oxidizer, rest, h_oxidizer, water, T_oxidizer)
    return Reactants(atoms, fuel * h_fuel + rest * h_oxidizer, fuel)


def _dilute(
    atoms: dict[str, float], name: str, mass: float, h: float, water: float, T: float | None
) -> float:
    """Add the atoms of a propellant with a mass fraction of water; return its enthalpy [J/kg].

    Its heat of mixing with water (about 1 kJ/mol) is left out.
    """
    _add(atoms, SPECIES[name], mass * (1.0 - water))
    if not water:
        return h
    diluent = DILUENTS["water"]
    _add(atoms, diluent, mass * water)
    warmer = (T or T_REFERENCE) - T_REFERENCE
    h_water = (diluent.formation + diluent.liquid_cp * warmer) / diluent.molar_mass
    return (1.0 - water) * h + water * h_water


def _add(atoms: dict[str, float], species: Species, mass: float) -> None:
    for element, n in species.atoms.items():
        atoms[element] = atoms.get(element, 0.0) + n * mass / species.molar_mass

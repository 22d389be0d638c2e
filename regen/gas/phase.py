"""Combustion gas as one ideal-gas phase: its species, transport fits and equilibrium solves."""

from __future__ import annotations

import csv
import math
import threading
from collections.abc import Callable, Mapping
from functools import cache
from importlib.resources import files
from typing import Any

from regen.errors import RangeError
from regen.texts import text

T_MIN, T_MAX = 200.0, 6000.0  # K, range of the species data (nasa_gas)
MAX_STEPS = 200
TRACE = 1e-12  # mole fraction below which a species counts as absent

GAS_SPECIES: tuple[tuple[set[str], tuple[str, ...]], ...] = (
    (set(), ("H2", "H", "O2", "O", "H2O", "OH", "HO2", "H2O2")),
    ({"C"}, ("CO", "CO2", "CH4", "CH3", "CH2", "CH", "C", "HCO", "CH2O", "C2H2", "C2H4")),
    ({"N"}, ("N2", "N", "NO", "NO2", "N2O", "NH", "NH2", "NH3", "HNO")),
    ({"C", "N"}, ("CN", "HCN", "NCO", "HNCO")),
)
"""Species of the gas by the elements they need beside hydrogen and oxygen."""

# names in the thermodynamic data file where they differ from those of the transport data
THERMO_NAME = {"C2H2": "C2H2,acetylene", "CH2O": "HCHO,formaldehy"}

# The data file carries 39.35 kJ/mol for OH; the modern value is used (key oh_formation).
OH_FORMATION = 37.36e6  # J/kmol at 298.15 K


def species_names(elements: Mapping[str, float]) -> tuple[str, ...]:
    """Return the species of the gas for the elements present."""
    return tuple(n for needs, names in GAS_SPECIES if needs <= elements.keys() for n in names)


@cache
def _library() -> tuple[dict[str, Any], dict[str, Any]]:
    import cantera as ct

    ct.suppress_thermo_warnings()
    thermo = {s.name: s for s in ct.Species.list_from_file("nasa_gas.yaml")}
    transport = {s.name: s for s in ct.Species.list_from_file("gri30.yaml")}
    return thermo, transport


@cache
def transport_fits() -> dict[tuple[str, str], tuple[float, ...]]:
    """Return the reference fits of viscosity and conductivity, by species and property.

    Fitted to the dilute-gas limit of the reference correlations (key coolprop_transport), whose
    own range ends at 2000 K for most species. Hydrogen's conductivity above 1000 K is
    mu cp / Pr with Pr from 0.674 (1000 K, its correlation) to 0.68 (1500 K and above), because
    that correlation bends unphysically above about 1500 K.
    """
    text = files("regen").joinpath("data/gas_transport.csv").read_text()
    return {
        (row["species"], row["property"]): tuple(float(row[f"c{i}"]) for i in range(5))
        for row in csv.DictReader(text.splitlines())
    }


def _species(name: str) -> Any:
    import cantera as ct

    thermo, transport = _library()
    known = thermo[THERMO_NAME.get(name, name)]
    data = known.thermo
    if name == "OH":
        coefficients = data.coeffs.copy()
        shift = (OH_FORMATION - data.h(298.15)) / ct.gas_constant
        coefficients[[6, 13]] += shift  # the enthalpy constant of both temperature ranges
        data = ct.NasaPoly2(data.min_temp, data.max_temp, data.reference_pressure, coefficients)
    species = ct.Species(name, known.composition)
    species.thermo = data
    species.transport = transport[name].transport
    return species


def bracketed_root(
    f: Callable[[float], float], low: float, high: float, guess: float, slope: float
) -> float:
    """Return the root of a rising function inside a bracket, by secant kept inside it."""
    x, last_x, last_f = guess, 0.0, 0.0
    for i in range(80):
        value = f(x)
        if value > 0.0:
            high = x
        else:
            low = x
        if i:
            secant = (value - last_f) / (x - last_x)
            slope = secant if secant > 0.0 else slope
        step = value / slope
        last_x, last_f = x, value
        x = x - step
        if abs(step) < 1e-9 * last_x:
            return last_x
        if not low < x < high:
            x = 0.5 * (low + high)
        if high - low < 1e-9 * high:
            break
    if min(x - T_MIN, T_MAX - x) < 1e-3:
        raise RangeError(text("no temperature", low=T_MIN, high=T_MAX))
    return x


class Mixture:
    """Ideal-gas phase of given elements, with reference transport, set by equilibrium solves.

    Wraps the phase because the transport fits would be lost on pickling; a pickled Mixture
    builds itself anew. One Mixture must not be shared between threads.
    """

    def __init__(self, elements: Mapping[str, float]) -> None:
        import cantera as ct

        self.elements = dict(elements)
        self.error: type[Exception] = ct.CanteraError
        self.gas = ct.Solution(
            thermo="ideal-gas",
            species=[_species(n) for n in species_names(elements)],
            transport_model="mixture-averaged",
        )
        setters = {
            "viscosity": self.gas.set_viscosity_polynomial,
            "conductivity": self.gas.set_thermal_conductivity_polynomial,
        }
        for (name, what), fit in transport_fits().items():
            if name in self.gas.species_names:
                setters[what](self.gas.species_index(name), fit)

    def __reduce__(self) -> tuple[type[Mixture], tuple[dict[str, float]]]:
        return Mixture, (self.elements,)

    def equilibrium_at(self, T: float, p: float) -> None:
        """Set the gas to chemical equilibrium at T [K], p [Pa]."""
        if not T_MIN <= T <= T_MAX:
            raise RangeError(text("species data", T=T, low=T_MIN, high=T_MAX))
        for solver in ("element_potential", "vcs"):
            self.gas.TPX = T, p, self.elements  # atoms: always a valid start
            try:
                self.gas.equilibrate("TP", solver=solver, max_steps=MAX_STEPS)
            except self.error:
                continue
            return
        raise RangeError(text("no equilibrium", T=T, p=p, atoms=self.elements))

    def _excess(self, name: str, value: float, p: float) -> Callable[[float], float]:
        """Return how far a property of the gas at equilibrium lies above a value, at T [K]."""

        def excess(T: float) -> float:
            self.equilibrium_at(T, p)
            return float(getattr(self.gas, name)) - value

        return excess

    def equilibrium_enthalpy(self, h: float, p: float, guess: float = 3000.0) -> None:
        """Set the gas to equilibrium at enthalpy h [J/kg] and p [Pa].

        The library's own enthalpy setter diverges for cryogenic reactants, hence the root find.
        """
        excess = self._excess("enthalpy_mass", h, p)
        T = bracketed_root(excess, T_MIN, T_MAX, guess, 6000.0)
        if abs(excess(T)) > 1e-6 * self.gas.cp_mass * T:
            raise RangeError(text("no chamber", h=h, p=p))

    def equilibrium_entropy(self, s: float, p: float) -> None:
        """Set the gas to equilibrium at entropy s [J/(kg K)] and p [Pa], from a nearby state."""
        guess = self.gas.T
        try:
            self.gas.SP = s, p
            if self.gas.T > 1.1 * T_MIN:  # nearer, the solver may leave the data and warn
                self.gas.equilibrate("SP", solver="element_potential", max_steps=MAX_STEPS)
                if abs(self.gas.entropy_mass - s) < 1e-8 * abs(s) and self.gas.T >= T_MIN:
                    return
        except self.error:
            pass
        excess = self._excess("entropy_mass", s, p)
        bracketed_root(excess, T_MIN, T_MAX, min(max(guess, T_MIN), T_MAX), 2.0)

    def frozen_entropy(self, s: float, p: float) -> None:
        """Set the gas to entropy s [J/(kg K)] and p [Pa] at its present composition."""
        try:
            self.gas.SP = s, p
        except self.error as error:
            raise RangeError(text("frozen expansion", p=p)) from error
        if self.gas.T < T_MIN:
            raise RangeError(text("frozen cold", T=self.gas.T, low=T_MIN))

    def radiating(self) -> tuple[float, float]:
        """Return the mole fractions of H2O and CO2 [-], at least a trace so that logarithms are."""
        fractions = self.gas.mole_fraction_dict(TRACE)
        return max(fractions.get("H2O", 0.0), TRACE), max(fractions.get("CO2", 0.0), TRACE)

    def carbon_activity(self, T: float) -> float:
        """Return the activity of graphite over the present composition, cooled to T [K].

        a_C = exp((2 mu_CO - mu_CO2 - g_graphite) / (R T)); above 1 soot is stable.
        """
        import cantera as ct

        state = self.gas.state
        self.gas.TP = T, self.gas.P
        potential = dict(zip(self.gas.species_names, self.gas.chemical_potentials, strict=True))
        graphite = _graphite()
        g = graphite.h(T) - T * graphite.s(T)
        self.gas.state = state
        return math.exp((2 * potential["CO"] - potential["CO2"] - g) / (ct.gas_constant * T))


@cache
def _graphite() -> Any:
    import cantera as ct

    return ct.Species.list_from_file("graphite.yaml")[0].thermo


_own = threading.local()


def mixture(elements: Mapping[str, float]) -> Mixture:
    """Return this thread's mixture for the elements, built once per set of species."""
    built: dict[tuple[str, ...], Mixture] = _own.__dict__.setdefault("built", {})
    names = species_names(elements)
    if names not in built:
        built[names] = Mixture(elements)
    built[names].elements = dict(elements)
    return built[names]

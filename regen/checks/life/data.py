"""What a liner's life is computed from: its own law or tests, or a generic law; creep rupture."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from regen.checks.findings import text
from regen.checks.life import laws
from regen.design import Design
from regen.errors import MissingProperty, RangeError
from regen.metals.alloys import AlloyCondition, Fatigue
from regen.result import Array, Integers, Mask

AWAY = 25.0
"""Between the metal's temperature and that of its tests more than this is extrapolation [K]."""


def _away(T: float, tested: float) -> str:
    """Say where a metal at T is not at the temperature of the tests [K]."""
    if abs(T - tested) <= AWAY:
        return ""
    side = "hotter than the tests, life may be shorter" if tested < T else "colder than the tests"
    return f"; extrapolated: the metal is at {T:.0f} K, {side}"


@dataclass(frozen=True, slots=True)
class OwnLaw:
    """Strain-life law that the case gives, and the temperature of its tests [K]."""

    law: laws.StrainLife
    T: float
    source: str = "given_in_case"

    def cycles(self, T: Array, strain_range: Array) -> Array:
        """Return cycles to failure, whatever T [K] is (..., S) [-]."""
        return np.where(np.isfinite(T), self.law.cycles(strain_range), np.nan)

    def text(self, T: float, strain_range: float) -> str:
        """Return what the law is, at one temperature [K] and strain range [-]."""
        return f"strain-life law of the case, tested at {self.T:.0f} K{_away(T, self.T)}"


@dataclass(frozen=True, slots=True, eq=False)
class Tests:
    """Power laws (N,) through the alloy's own fatigue points, by rising temperature."""

    points: tuple[Fatigue, ...]
    law: laws.PowerLaw
    of: str
    source: str

    def _which(self, T: Array) -> Integers:
        """Return the coldest tests that are not colder than the metal, else the hottest."""
        tested = np.array([test.T for test in self.points])
        return np.minimum(np.searchsorted(tested, T), tested.size - 1)

    def cycles(self, T: Array, strain_range: Array) -> Array:
        """Return cycles to failure (..., S) [-] at T [K]; infinite without strain."""
        n = self._which(T)
        law = laws.PowerLaw(*(values[n] for values in self.law))
        return np.where(np.isfinite(T), law.cycles(strain_range), np.nan)

    def text(self, T: float, strain_range: float) -> str:
        """Return what the law is, at one temperature [K] and strain range [-]."""
        n = int(self._which(np.array(T)))
        tested, de = self.points[n].T, self.points[n].strain_range
        low, high = de.min(), de.max()
        within = low <= strain_range <= high
        strain = "" if within else f"; extrapolated: {100 * strain_range:.2g} % is outside"
        places = {"low": 100 * low, "high": 100 * high, "scatter": self.law.scatter[n]}
        law = text("row: fatigue tests", count=de.size, of=self.of, T=tested, **places)
        return f"{law}{_away(T, tested)}{strain}"


@dataclass(frozen=True, slots=True, eq=False)
class Generic:
    """Method of universal slopes, from tensile strength and ductility at temperature.

    ``ductility`` is the reduction of area that the case gives, None for that of the table.
    """

    liner: AlloyCondition
    ductility: float | None
    source: str = "manson1965"

    def cycles(self, T: Array, strain_range: Array) -> Array:
        """Return cycles to failure (..., S) [-] at T [K]; NaN where a table ends."""
        return laws.universal_slopes(*self._tensile(T)).cycles(strain_range)

    def modified(self, T: Array, strain_range: Array) -> Array:
        """Return the same by the modified method of universal slopes (..., S) [-]; T in [K]."""
        return laws.modified_universal_slopes(*self._tensile(T)).cycles(strain_range)

    def _tensile(self, T: Array) -> tuple[Array, Array, Array]:
        uts, E = (self.liner.value(name, T).value for name in ("uts", "youngs_modulus"))
        if self.ductility is not None:
            return uts, E, laws.true_ductility(self.ductility)
        return uts, E, laws.true_ductility(self.liner.value("reduction_of_area", T).value)

    def ends(self, T: Array) -> str:
        """Return which table ends before temperatures [K] (..., S), "" if none does."""
        view = replace(self.liner, beyond="raise")
        try:
            for name in _tensile_of(self.ductility):
                view.value(name, T)
        except RangeError as error:
            return str(error)
        return ""

    def text(self, T: float, strain_range: float) -> str:
        """Return what the law is, at one temperature [K] and strain range [-]."""
        at = np.array(T)
        uts, _, D = self._tensile(at)
        area = 1.0 - np.exp(-float(D))
        of = "of the case" if self.ductility is not None else "of its table"
        beyond = bool(self.liner.value("uts", at).held)
        held = "; extrapolated: strength held beyond its table" if beyond else ""
        strength = float(uts) / 1e6
        return text("row: universal slopes", uts=strength, T=T, area=100 * area, of=of) + held


Law = OwnLaw | Tests | Generic
"""A fatigue law: cycles at temperatures and strain ranges, and what it is."""

TENSILE = {
    "uts": "ultimate strength",
    "youngs_modulus": "Young's modulus",
    "reduction_of_area": "reduction of area",
}
"""Properties that a generic life law needs at temperature."""


def _tensile_of(ductility: float | None) -> dict[str, str]:
    """Return what a generic law needs of the tables, where the case may give the ductility."""
    given = "reduction_of_area" if ductility is not None else ""
    return {name: label for name, label in TENSILE.items() if name != given}


def fatigue_law(design: Design, liner: AlloyCondition) -> Law:
    """Return what the life of a liner is computed from, the best that is known.

    The law of the case; else the alloy's own fatigue points in its condition; else a generic law
    from its strength and ductility. Raises ``RangeError`` if there is none of these; the text says
    what is missing and how to give it.
    """
    life = design.life
    view = liner.quiet
    if life.fatigue_strength is not None:
        return _own_law(design, liner)
    try:
        return _tests(view)
    except RangeError as error:
        without = str(error)
    wanted = _tensile_of(life.ductility)
    missing = [label for name, label in wanted.items() if liner.known(name) is None]
    if not missing:
        return Generic(view, life.ductility)
    if liner.lost:
        raise MissingProperty(without)
    plural = "are" if len(missing) > 1 else "is"
    without = f"{' and '.join(missing)} {plural}"
    raise MissingProperty(text("refused: life", liner=liner, without=without))


def _own_law(design: Design, liner: AlloyCondition) -> OwnLaw:
    """Return the law of the case, which gives all of its constants or none."""
    life = design.life
    keys = ("strength", "strength_exponent", "ductility", "ductility_exponent", "temperature")
    strength, b, ductility, c, T = (float(getattr(life, f"fatigue_{key}")) for key in keys)
    E = replace(liner, beyond="raise").value("youngs_modulus", T).value
    law = laws.coffin_manson_basquin(np.array(strength), E, b, np.array(ductility), c)
    return OwnLaw(law, T)


def _tests(liner: AlloyCondition) -> Tests:
    fits: dict[Fatigue, laws.PowerLaw] = {}
    wrong = []
    for test in liner.fatigue_tests():
        try:
            fits[test] = laws.fit_power_law(test.strain_range, test.cycles)
        except ValueError as error:
            wrong.append(f"fatigue tests of {liner} at {test.T:.0f} K: {error}")
    if not fits:
        raise MissingProperty("; ".join(wrong))
    points, law = tuple(fits), laws.PowerLaw(*np.array(list(fits.values())).T)
    return Tests(points, law, str(liner), points[0].sources[0])


@dataclass(frozen=True, slots=True, eq=False)
class CreepCurve:
    """Larson-Miller parameter over the logarithm of stress, through an alloy's rupture points.

    ``log_stress`` rises (N,) [log10 of Pa]; ``parameter`` (N,) [K]; ``constant`` [-].
    """

    log_stress: Array
    parameter: Array
    constant: float
    source: str
    text: str

    def rupture(self, stress: Array, T: Array) -> tuple[Array, Mask]:
        """Return the time to rupture [s] at a stress [Pa] and T [K], and where that is untested.

        Straight lines between the points; the first and last go on beyond them.
        """
        x, at = self.log_stress, np.log10(stress)
        n = np.clip(np.searchsorted(x, at) - 1, 0, x.size - 2)
        slope = (self.parameter[n + 1] - self.parameter[n]) / (x[n + 1] - x[n])
        P = self.parameter[n] + slope * (at - x[n])
        beyond = np.asarray((at < x[0]) | (at > x[-1]))
        return laws.rupture_time(P, T, self.constant), beyond


def creep_curve(liner: AlloyCondition) -> CreepCurve:
    """Return the creep rupture of a liner as one curve, with the constant of its source, else 20.

    Raises ``MissingProperty`` if there are no rupture points, or all are at one stress.
    """
    points = liner.creep()
    fact = points.constant
    constant = fact.value if fact else laws.LARSON_MILLER_CONSTANT
    P = laws.larson_miller(points.T, points.time, constant)
    stress, which = np.unique(points.stress, return_inverse=True)
    if stress.size < 2:
        message = f"creep rupture of {liner} is known at one stress alone; two or more are needed"
        raise MissingProperty(message)
    mean = np.bincount(which, weights=P) / np.bincount(which)
    usual = "" if fact else ", constant 20 as usual"
    basis = f"Larson-Miller through {P.size} rupture points of {liner}{usual}"
    return CreepCurve(np.log10(stress), mean, constant, points.sources[0], basis)

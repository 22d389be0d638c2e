"""Uncertain inputs of a design: their distributions about the case's own values, and usual ones."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from regen.case.fields import shown
from regen.case.read import unknown_path
from regen.case.uncertainty import SECTION, distribution, model_names
from regen.design import Design, Distribution
from regen.errors import CaseError, Problem
from regen.solver import bands
from regen.solver.models import member_names
from regen.solver.prepare import Prepared
from regen.solver.solve import rule_for
from regen.studies.batch.parameters import FUEL, Parameter, numeric_key, own_profile, own_value
from regen.units import Refusal

Array = NDArray[np.float64]
Options = Callable[[], Mapping[str, tuple[str, ...]]]
"""Gives the correlations that apply, by role."""

CUT = 3.0
"""A normal distribution is cut off at this many standard deviations, and what is left made whole:
parts outside are not made, and no flow is negative."""

CUT_WORDS = f"cut off at {CUT:g} standard deviations and made whole again"

SHOP, USUAL = "tolerance of [shop]", "common practice"

GIVEN: dict[str, tuple[str, float, str]] = {
    "models.barrel_factor": ("normal", 5.0, "what a calorimeter chamber repeats to"),
    "models.throat_factor": ("normal", 5.0, "what a calorimeter chamber repeats to"),
    "models.mixing_factor": ("uniform", 10.0, "elements of one pattern differ, and so do faces"),
    "models.deposit_resistance": ("uniform", 50.0, "soot and coke come and go from run to run"),
    "liner.coating_conductivity": ("uniform", 30.0, "sprayed coats differ in porosity"),
    "film.mass_flow": ("normal", 5.0, "small holes differ, and clog"),
    "film.entrainment": ("uniform", 50.0, "known to a factor of two until a test fits it"),
    "film.layer_mixture_ratio": ("uniform", 10.0, "a layer beside the wall is rarely measured"),
}
"""Law, amount [% of the case's own] and reason of keys that a case may rest on, where it gives
them. All are common practice."""


def applicable(prepared: Prepared) -> dict[str, tuple[str, ...]]:
    """Return the correlations that apply to a design, by role.

    Parameters
    ----------
    prepared : Prepared
        Design and regime.

    Returns
    -------
    dict
        Those whose combinations make the band, and those of boiling; the nominal one first.
    """
    chosen, coolant = rule_for(prepared)
    members, _ = member_names(chosen, coolant, fitted=True)  # names, no factors
    found = {role: tuple(dict.fromkeys(one[role] for one in members)) for role in members[0]}
    others = bands.boiling(prepared.design.coolant.correlated_as).members
    return {**found, "boiling": tuple(dict.fromkeys((chosen["boiling"], *others)))}


def quantile(law: str, u: Array) -> Array:
    """Return the quantiles of a law of unit amount about zero.

    Parameters
    ----------
    law : {"uniform", "normal", "triangular"}
        Half-width 1; a normal one has a standard deviation of 1 before it is cut at ``CUT``.
    u : ndarray
        Probabilities from 0 to 1, any shape [-].

    Returns
    -------
    ndarray
        In amounts, same shape [-].
    """
    if law == "uniform":
        return np.asarray(2.0 * u - 1.0)
    if law == "triangular":
        low = np.sqrt(2.0 * np.minimum(u, 0.5)) - 1.0
        return np.where(u < 0.5, low, 1.0 - np.sqrt(2.0 * np.minimum(1.0 - u, 0.5)))
    from scipy.special import ndtr, ndtri

    tail = ndtr(-CUT)
    return np.asarray(np.clip(ndtri(tail + u * (1.0 - 2.0 * tail)), -CUT, CUT))


@dataclass(frozen=True, slots=True)
class Input:
    """One uncertain input: a numeric key about its own value, or one of several correlations.

    ``centre`` and ``width`` are in what ``key`` varies by [SI, factor or shift]; ``key`` is None
    for a correlation, which is one of ``names`` with equal weights. ``about`` says the own value
    in words, ``why`` where the distribution comes from if nobody gave it.
    """

    given: Distribution
    key: Parameter | None = None
    centre: float = 0.0
    width: float = 0.0
    names: tuple[str, ...] = ()
    about: str = ""
    why: str = ""

    @property
    def path(self) -> str:
        """Path of the key that varies."""
        return self.given.key

    @property
    def role(self) -> str:
        """Role of the correlations, "" for a numeric key."""
        return self.path.partition(".")[2] if self.key is None else ""

    @property
    def column(self) -> str:
        """Name of its column in tables."""
        return self.key.column if self.key else self.path

    @property
    def reach(self) -> tuple[float, float]:
        """Least and largest value [SI, factor or shift]."""
        far = self.width * (CUT if self.given.law == "normal" else 1.0)
        return self.centre - far, self.centre + far

    def values(self, u: Array) -> Array:
        """Return the values at probabilities (n,) [SI, factor or shift]."""
        return self.centre + self.width * quantile(self.given.law, u)

    def named(self, u: Array) -> list[str]:
        """Return the correlation at each probability (n,) [-]."""
        last = len(self.names) - 1
        return [self.names[min(int(one * len(self.names)), last)] for one in u]

    def say(self) -> str:
        """Return the distribution in words."""
        if self.key is None:
            return f"one of {', '.join(self.names)}, equal weights"
        amount = _amount(self.given, self.key)
        what = "standard deviation" if self.given.law == "normal" else "half-width"
        return f"{self.given.law}, {what} {amount}, about {self.about}"


def _amount(given: Distribution, key: Parameter) -> str:
    if given.measure == "of own":
        return f"{100.0 * given.amount:.6g} %"
    return replace(key, relative=False).say(given.amount)


@dataclass(frozen=True, slots=True)
class Asked:
    """A distribution that somebody or nobody gave: where it stands, and why it was taken."""

    distribution: Distribution
    where: str
    why: str = ""


def options_read(texts: Sequence[str]) -> list[Asked]:
    """Read the distributions given as options.

    Parameters
    ----------
    texts : sequence of str
        Each "key=distribution" [-].

    Returns
    -------
    list of Asked
        In order; of a key given twice the last.

    Raises
    ------
    CaseError
        If one is no distribution, with everything that is wrong.
    """
    found: dict[str, Asked] = {}
    problems = []
    for text in texts:
        path, sign, right = (part.strip() for part in text.partition("="))
        where = f"--input {path[:60]}"
        if not sign or not path or not right:
            accepted = 'KEY=DISTRIBUTION, such as "channels.width=normal 0.02 mm"'
            problems.append(Problem("--input", "it is no assignment", shown(text), accepted))
        elif strange := unknown_path(path):
            problems.append(replace(strange, key=where))
        else:
            try:
                found[path] = Asked(distribution(path, _as_written(right)), where)
            except Refusal as error:
                problem = Problem(where, error.what, shown(right), error.accepted, error.do)
                problems.append(problem)
    if problems:
        raise CaseError("uncertainty", problems)
    return list(found.values())


def _as_written(right: str) -> object:
    """Return a list or a quoted text as a case file reads it, else the text."""
    try:
        return tomllib.loads(f"value = {right}")["value"] if right[0] in "[\"'" else right
    except ValueError:
        return right


def inputs_of(
    design: Design, texts: Sequence[str], options: Options
) -> tuple[tuple[Input, ...], tuple[str, ...]]:
    """Return the uncertain inputs of a study.

    Parameters
    ----------
    design : Design
        Checked design: its own values, and the distributions of its case.
    texts : sequence of str
        Distributions given beside the case, "key=distribution": each adds to those of the case or
        takes the place of one [-].
    options : callable
        Gives the correlations that apply, asked only where they are needed.

    Returns
    -------
    tuple of Input
        Usual ones where neither case nor options give any.
    tuple of str
        Usual ones that were left out, and why.

    Raises
    ------
    CaseError
        If one does not go with the design, with everything that is wrong.
    """
    own = {one.key: Asked(one, f'{SECTION}."{one.key}"') for one in design.uncertainty}
    asked = list((own | {one.distribution.key: one for one in options_read(texts)}).values())
    if not asked:
        return _usual_inputs(design, options)
    problems = []
    named = {one.distribution.key: one for one in asked}
    for wrong in model_names([one.distribution for one in asked], design.coolant.correlated_as):
        where = named[wrong.where.split('"')[1]].where
        problems.append(Problem(where, wrong.what, wrong.given, wrong.accepted, wrong.do))
    found = []
    for one in asked:
        try:
            _stray(one.distribution.key, set(named), design)
            found.append(_input(one, design, options))
        except Refusal as error:
            problems.append(Problem(one.where, error.what, error.given, error.accepted, error.do))
    if problems:
        raise CaseError("uncertainty", problems)
    return tuple(found), ()


def _stray(path: str, all_paths: Iterable[str], design: Design) -> None:
    """Refuse a key whose change would do nothing, or undo another's."""
    section, _, name = path.partition(".")
    if path == "channels.roughness_Ra" and "channels.roughness_sand_grain" in all_paths:
        raise Refusal("roughness_sand_grain varies too, and each fixes the other", "", "remove one")
    metered = [c.name for c in design.circuits if c.mass_flow is not None]
    if path == "coolant.mass_flow" and metered:
        do = f"vary circuits.{metered[0]}.mass_flow and the others"
        raise Refusal("the circuits have flows of their own, and it does nothing", "", do)
    if section == "circuits" and name.endswith(".share"):
        what = "the shares of all circuits add up to 1, and one alone cannot vary"
        raise Refusal(what, "", "give the circuits mass_flow, and vary that")
    if section == "channels" and design.circuits and not _followers(design, name):
        do = f"vary circuits.{design.circuits[0].name}.{name} and the others"
        raise Refusal("every circuit has its own, and it does nothing", "", do)
    if section == "circuits":
        circuit, _, entry = name.partition(".")
        follows = f"channels.{entry}" in all_paths and circuit in _followers(design, entry)
        if follows:
            do = f"vary channels.{entry} alone, or that of each circuit"
            raise Refusal(f"it is taken from channels.{entry}, which varies too", "", do)


def _followers(design: Design, name: str) -> list[str]:
    """Return the circuits that have a key from [channels]."""
    name = "roughness" if name.startswith("roughness") else name
    own = getattr(design.channels, name)
    return [c.name for c in design.circuits if getattr(c.channels, name) == own]


def _input(asked: Asked, design: Design, options: Options) -> Input:
    """Return one input, or raise ``Refusal``."""
    given = asked.distribution
    if given.law == "discrete":
        return _discrete(asked, options)
    key = numeric_key(given.key, design)
    if given.measure == "of fuel" and key.form != "share of the fuel":
        raise Refusal("the case gives the flow as a value, not as a share of the fuel")
    if given.measure == "SI" and key.form == "share of the fuel":
        do = f'write the width as a share, "{given.law} 0.02 {FUEL}", or in per cent'
        raise Refusal("the case gives the flow as a share of the fuel", "", do)
    profile = own_profile(design, given.key)
    if profile is not None and len(profile.x) > 1:
        return _of_profile(asked, key, profile.value)
    own = own_value(design, key)
    if own is None:
        raise Refusal("the case gives no value of it to lie about", "", "add the key to the case")
    width = given.amount * (own if given.measure == "of own" else 1.0)
    if width == 0.0:
        what = "the case's own value is zero, and per cent of it is nothing"
        raise Refusal(what, "", "give the width as a value")
    found = Input(given, key, own, width, about=key.say(own), why=asked.why)
    _within(key, found.reach)
    return found


def _of_profile(asked: Asked, key: Parameter, values: tuple[float, ...]) -> Input:
    given = asked.distribution
    low, high = min(values), max(values)
    about = f"the case's own, {key.shown(low):.6g} to {key.say(high)}"
    if given.measure == "of own":
        varied = replace(key, relative=True)
        found = Input(given, varied, 1.0, given.amount, about=about, why=asked.why)
        ends = low * found.reach[0], high * found.reach[1]
    else:
        varied = replace(key, shift=True)
        found = Input(given, varied, 0.0, given.amount, about=about, why=asked.why)
        ends = low + found.reach[0], high + found.reach[1]
    _within(key, ends)
    return found


def _within(key: Parameter, ends: tuple[float, float]) -> None:
    """Refuse a distribution whose ends leave what the key may be."""
    for end in ends:
        try:
            key.check(end)
        except Refusal as error:
            through = min(ends) <= 0.0 < max(ends) and end <= 0.0
            sense = "goes through zero: it" if through else "leaves what the key may be: it"
            what = f"the distribution {sense} reaches {key.say(end)}"
            raise Refusal(what, error.accepted, "give a smaller width") from error


def _discrete(asked: Asked, options: Options) -> Input:
    given = asked.distribution
    role = given.key.partition(".")[2]
    names = given.names or options()[role]
    if len(names) < 2:
        raise Refusal(f"one correlation applies, {', '.join(names)}", "", "leave it out")
    return Input(given, names=names, why=asked.why)


def _usual_inputs(design: Design, options: Options) -> tuple[tuple[Input, ...], tuple[str, ...]]:
    """Return the usual inputs that go with a design, and why others do not."""
    found, left_out = [], []
    for asked in [*usual(design), *_rested_on(design)]:
        path = asked.distribution.key
        try:
            if path == "coolant.mass_flow" and design.coolant.fuel_fraction == 1.0:
                raise Refusal("all of the fuel flows; mixture ratio and pressure vary it")
            if not asked.distribution.amount and asked.distribution.law != "discrete":
                raise Refusal("the shop's tolerance is zero")
            found.append(_input(asked, design, options))
        except Refusal as error:
            left_out.append(f"{path}: {error.what}")
    if design.models.radiation != "off":
        what = "it is uncertain by a factor of two, and no key scales it"
        left_out.append(f"models.radiation: {what}")
    return tuple(found), tuple(left_out)


def _rested_on(design: Design) -> list[Asked]:
    """Return the distributions of what the case gives and rests on: factors, layers, film."""
    models, film = design.models, design.film
    given: dict[str, bool] = {
        "models.barrel_factor": models.barrel_factor != 1.0,
        "models.throat_factor": models.throat_factor != 1.0,
        "models.mixing_factor": models.mixing_factor is not None,
        "models.deposit_resistance": models.deposit_resistance is not None,
        "liner.coating_conductivity": design.liner.coating_conductivity is not None,
        "film.mass_flow": film is not None and (film.mass_flow or film.fuel_fraction) is not None,
        "film.entrainment": film is not None and film.model == "entrainment",
        "film.layer_mixture_ratio": film is not None and film.layer_mixture_ratio is not None,
    }
    return [
        Asked(distribution(path, f"{law} {amount} %"), path, f"{USUAL}: {reason}")
        for path, (law, amount, reason) in GIVEN.items()
        if given[path]
    ]


def usual(design: Design) -> list[Asked]:
    """Return the usual distributions of a design, as common practice has them.

    Parameters
    ----------
    design : Design
        Checked design.

    Returns
    -------
    list of Asked
        Slots and wall within the shop's tolerances, flows, pressure, mixture ratio, conductivity
        and roughness by per cent, and the correlations that make the band.
    """
    shop = design.shop
    slots = [("width", shop.width_tolerance), ("depth", shop.depth_tolerance)]
    sizes = [
        (f"channels.{name}", size)
        for name, size in slots
        if not design.circuits or _followers(design, name)
    ]
    sizes += [
        (f"circuits.{circuit.name}.{name}", size)
        for circuit in design.circuits
        for name, size in slots
        if circuit.name not in _followers(design, name)
    ]
    sizes.append(("liner.wall", shop.wall_tolerance))
    flows = [f"circuits.{c.name}.mass_flow" for c in design.circuits if c.mass_flow is not None]
    per_cent = [(path, "normal", 2.0) for path in flows or ["coolant.mass_flow"]]
    per_cent += [
        ("propellants.mixture_ratio", "normal", 2.0),
        ("chamber.pressure", "normal", 1.5),
        ("models.conductivity_factor", "normal", 5.0),
        ("channels.roughness_Ra", "uniform", 30.0),
    ]
    found = [Asked(Distribution(path, "uniform", size), path, SHOP) for path, size in sizes]
    for path, law, amount in per_cent:
        found.append(Asked(distribution(path, f"{law} {amount} %"), path, USUAL))
    for role in ("gas_side", "coolant_side", "friction"):
        path = f"models.{role}"
        found.append(Asked(Distribution(path, "discrete"), path, USUAL))
    return found

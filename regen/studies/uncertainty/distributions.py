"""Uncertain inputs of a design: their distributions about the case's own values, and usual ones."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NoReturn

import numpy as np
from numpy.typing import NDArray

from regen.case.keys import check_path
from regen.case.kinds import shown
from regen.case.studies import UNCERTAINTY, distribution, model_names
from regen.design import Design, Distribution
from regen.solver import bands
from regen.solver.models import member_names
from regen.solver.prepare import Prepared
from regen.solver.solve import rule_for
from regen.sources import read_data
from regen.studies.batch.parameters import FUEL, Parameter, numeric_key, own_profile, own_value
from regen.units import Refusal, Wrong

Array = NDArray[np.float64]
Options = Callable[[], Mapping[str, tuple[str, ...]]]
"""Gives the correlations that apply, by role."""

TRUNCATION = 3.0
"""A normal distribution is truncated at this many standard deviations and renormalised: parts
outside are not made, and no flow is negative."""

TRUNCATED = f"truncated at {TRUNCATION:g} standard deviations and renormalised"

SHOP, USUAL = "tolerance of [shop]", "common practice"

_TEXTS = read_data("studies.toml")["uncertainty"]
RESTED_ON: Mapping[str, tuple[str, str]] = _TEXTS["rested_on"]
"""Distribution and reason of keys that a case may rest on; all are common practice."""

FITTED = ("models.barrel_factor", "models.throat_factor")
"""Of these, those that are 1 unless a case gives them."""


def refuse(which: str, **places: object) -> NoReturn:
    """Raise a refusal of data/studies.toml with its places filled in."""
    what, do = (text.format(**places) for text in _TEXTS["refused"][which])
    raise Refusal(what, "", do)


def applicable(prepared: Prepared) -> dict[str, tuple[str, ...]]:
    """Return the correlations that apply to a design, by role, the nominal one first.

    Those whose combinations make the band, and those of boiling.
    """
    chosen, coolant = rule_for(prepared)
    members, _ = member_names(chosen, coolant, fitted=True)  # names, no factors
    names = {role: tuple(dict.fromkeys(one[role] for one in members)) for role in members[0]}
    others = bands.boiling(prepared.design.coolant.correlated_as).members
    return {**names, "boiling": tuple(dict.fromkeys((chosen["boiling"], *others)))}


def quantile(law: str, u: Array) -> Array:
    """Return the quantiles at probabilities ``u`` of a law of unit amount about zero, same shape.

    Half-width 1; a normal one has a standard deviation of 1 before it is truncated.
    """
    if law == "uniform":
        return np.asarray(2.0 * u - 1.0)
    if law == "triangular":
        low = np.sqrt(2.0 * np.minimum(u, 0.5)) - 1.0
        return np.where(u < 0.5, low, 1.0 - np.sqrt(2.0 * np.minimum(1.0 - u, 0.5)))
    from scipy.special import ndtr, ndtri

    tail = ndtr(-TRUNCATION)
    return np.asarray(np.clip(ndtri(tail + u * (1.0 - 2.0 * tail)), -TRUNCATION, TRUNCATION))


@dataclass(frozen=True, slots=True)
class Input:
    """One uncertain input: a parameter about its own value, or one of several correlations.

    ``centre`` and ``width`` are in what ``parameter`` varies by [SI, factor or shift]; it is None
    for a correlation, which is one of ``names`` with equal weights. ``about`` is the own value as
    text, ``why`` where the distribution comes from if nobody gave it.
    """

    given: Distribution
    parameter: Parameter | None = None
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
        """Role of the correlations, "" for a parameter."""
        return self.path.partition(".")[2] if self.parameter is None else ""

    @property
    def column(self) -> str:
        """Name of its column in tables."""
        return self.parameter.column if self.parameter else self.path

    @property
    def reach(self) -> tuple[float, float]:
        """Least and largest value [SI, factor or shift]."""
        far = self.width * (TRUNCATION if self.given.law == "normal" else 1.0)
        return self.centre - far, self.centre + far

    def values(self, u: Array) -> Array:
        """Return the values at probabilities (n,) [SI, factor or shift]."""
        return self.centre + self.width * quantile(self.given.law, u)

    def named(self, u: Array) -> list[str]:
        """Return the correlation at each probability (n,)."""
        count = len(self.names)
        return [self.names[min(int(one * count), count - 1)] for one in u]

    @property
    def text(self) -> str:
        """The distribution as text."""
        if self.parameter is None:
            return f"one of {', '.join(self.names)}, equal weights"
        if self.given.measure == "of own":
            amount = f"{100.0 * self.given.amount:.6g} %"
        else:
            amount = replace(self.parameter, relative=False).say(self.given.amount)
        what = "standard deviation" if self.given.law == "normal" else "half-width"
        return f"{self.given.law}, {what} {amount}, about {self.about}"


def from_options(texts: Sequence[str]) -> dict[str, Distribution]:
    """Read distributions given as "key=distribution"; of a key given twice the last.

    Raises ``CaseError`` with everything that is wrong.
    """
    given, wrong = dict[str, Distribution](), Wrong()
    for text in texts:
        path, _, right = (part.strip() for part in text.partition("="))
        if not path or not right:
            accepted = 'KEY=DISTRIBUTION, such as "channels.width=normal 0.02 mm"'
            what = "not a key with its distribution"
            wrong.append(Refusal(what, accepted, "", "--input", shown(text)))
            continue
        with wrong.gather(_option(path), shown(right)):
            check_path(path)
            given[path] = distribution(path, _as_written(right))
    wrong.refuse_case("uncertainty")
    return given


def _option(path: str) -> str:
    return f"--input {path[:60]}"


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
        Gives the correlations that apply, called only where they are needed.

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
    where = {one.key: f'{UNCERTAINTY}."{one.key}"' for one in design.uncertainty}
    added = from_options(texts)
    given = {one.key: one for one in design.uncertainty} | added
    if not given:
        return _usual_inputs(design, options)
    where |= {path: _option(path) for path in added}
    inputs, wrong = [], model_names(given.values(), design.coolant.correlated_as)
    for refusal in wrong:
        refusal.where = where[refusal.where.split('"')[1]]
    for path, one in given.items():
        with wrong.gather(where[path]):
            _check_effect(path, given, design)
            inputs.append(_input(one, design, options))
    wrong.refuse_case("uncertainty")
    return tuple(inputs), ()


def _check_effect(path: str, all_paths: Iterable[str], design: Design) -> None:
    """Refuse a key whose change would do nothing, or undo another's."""
    if path == "channels.roughness_Ra" and "channels.roughness_sand_grain" in all_paths:
        refuse("sand_grain")
    if not design.circuits:
        return
    section, _, name = path.partition(".")
    metered = [c.name for c in design.circuits if c.mass_flow is not None]
    if path == "coolant.mass_flow" and metered:
        refuse("own_flows", circuit=metered[0])
    if section == "channels" and not _followers(design, name):
        refuse("own_channels", circuit=design.circuits[0].name, name=name)
    if section == "circuits":
        circuit, _, entry = name.partition(".")
        if entry == "share":
            refuse("share")
        if f"channels.{entry}" in all_paths and circuit in _followers(design, entry):
            refuse("followed", name=entry)


def _followers(design: Design, name: str) -> list[str]:
    """Return the circuits that have a key from [channels]."""
    name = "roughness" if name.startswith("roughness") else name
    own = getattr(design.channels, name)
    return [c.name for c in design.circuits if getattr(c.channels, name) == own]


def _input(given: Distribution, design: Design, options: Options, why: str = "") -> Input:
    """Return one input, or raise ``Refusal``."""
    if given.law == "discrete":
        names = given.names or options()[given.key.partition(".")[2]]
        if len(names) < 2:
            refuse("one", names=", ".join(names))
        return Input(given, names=names, why=why)
    key = numeric_key(given.key, design)
    if given.measure == "of fuel" and key.form != "share of the fuel":
        refuse("flow_value")
    if given.measure == "SI" and key.form == "share of the fuel":
        refuse("flow_share", law=given.law, fuel=FUEL)
    profile = own_profile(design, given.key)
    if profile is not None and len(profile.x) > 1:
        low, high = min(profile.value), max(profile.value)
        about = f"the case's own, {key.shown(low):.6g} to {key.say(high)}"
        by_factor = given.measure == "of own"
        varied = replace(key, relative=by_factor, shift=not by_factor)
        result = Input(given, varied, float(by_factor), given.amount, about=about, why=why)
        least, most = result.reach
        ends = (low * least, high * most) if by_factor else (low + least, high + most)
    else:
        own = own_value(design, key)
        if own is None:
            refuse("no_value")
        width = given.amount * (own if given.measure == "of own" else 1.0)
        if width == 0.0:
            refuse("zero")
        result = Input(given, key, own, width, about=key.say(own), why=why)
        ends = result.reach
    _check_ends(key, ends)
    return result


def _check_ends(key: Parameter, ends: tuple[float, float]) -> None:
    """Refuse a distribution whose ends leave what the key may be."""
    for end in ends:
        try:
            key.check(end)
        except Refusal as error:
            through = min(ends) <= 0.0 < max(ends) and end <= 0.0
            sense = "goes through zero: it" if through else "leaves what the key may be: it"
            what = f"the distribution {sense} reaches {key.say(end)}"
            raise Refusal(what, error.accepted, "give a smaller width") from error


def _usual_inputs(design: Design, options: Options) -> tuple[tuple[Input, ...], tuple[str, ...]]:
    """Return the usual inputs that go with a design, and why others do not."""
    inputs, left_out = [], []
    for one, why in usual(design):
        try:
            if one.key == "coolant.mass_flow" and design.coolant.fuel_fraction == 1.0:
                refuse("all_fuel")
            if not one.amount and one.law != "discrete":
                refuse("no_tolerance")
            inputs.append(_input(one, design, options, why))
        except Refusal as error:
            left_out.append(f"{one.key}: {error.what}")
    if design.models.radiation != "off":
        why = "it is uncertain by a factor of two, and no key scales it"
        left_out.append(f"models.radiation: {why}")
    return tuple(inputs), tuple(left_out)


def usual(design: Design) -> list[tuple[Distribution, str]]:
    """Return the usual distributions of a design, as common practice has them, each with why.

    Slots and wall within the shop's tolerances, flows, pressure, mixture ratio, conductivity and
    roughness by per cent, the correlations that make the band, and what the case rests on.
    """
    shop, circuits = design.shop, design.circuits
    slots = {"width": shop.width_tolerance, "depth": shop.depth_tolerance}
    followers = {name: _followers(design, name) for name in slots}
    sizes = {
        **{f"channels.{n}": size for n, size in slots.items() if not circuits or followers[n]},
        **{
            f"circuits.{circuit.name}.{name}": size
            for circuit in circuits
            for name, size in slots.items()
            if circuit.name not in followers[name]
        },
        "liner.wall": shop.wall_tolerance,
    }
    flows = [f"circuits.{c.name}.mass_flow" for c in circuits if c.mass_flow is not None]
    spreads = {
        **dict.fromkeys(flows or ["coolant.mass_flow"], "normal 2 %"),
        **_TEXTS["usual"],
        **{path: text for path, (text, _) in RESTED_ON.items() if _rests_on(design, path)},
    }
    reasons = {path: f"{USUAL}: {reason}" for path, (_, reason) in RESTED_ON.items()}
    return [
        *((Distribution(path, "uniform", size), SHOP) for path, size in sizes.items()),
        *((distribution(path, text), reasons.get(path, USUAL)) for path, text in spreads.items()),
    ]


def _rests_on(design: Design, path: str) -> bool:
    """Return whether a design gives a key of ``RESTED_ON``."""
    if path == "film.entrainment":  # it has a value however the film mixes
        return design.film is not None and design.film.model == "entrainment"
    own = own_profile(design, path) or own_value(design, numeric_key(path, design))
    return own is not None and (own != 1.0 or path not in FITTED)

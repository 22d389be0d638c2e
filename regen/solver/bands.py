"""Which correlations apply to which coolant and regime, and why others are left out.

The rule is data: the report prints it, and removing a member from the registry removes the edge
it made.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from typing import Literal

from regen.design import OWN_FLUID
from regen.gas.flux import LOW_THROAT, MEASURED_THROAT, correlation_of
from regen.physics._dispatch import BOILING, COOLANT_SIDE, FRICTION, GAS_SIDE
from regen.physics.balance import NEAR_CRITICAL as HELD_AS_DENSE
from regen.physics.registry import CORRELATIONS
from regen.sources import DATA

GAS_SIDE_MEMBERS = (
    *("bartz", "bartz_enthalpy", "pipe_film"),
    *("reference_enthalpy", "integral_layer"),
)


HIGHEST_THROAT = 1.1
"""Throat flux of the highest gas-side member over that of the conservative form, rounded up."""

FITTED = "the case gives the throat's factor from a test of its own"

ONE_FORMULA = ("colebrook", "haaland")
"""One friction formula, exact and approximated: the second stands for the first where named."""

FRICTION_MEMBERS = ("colebrook", "heated_wall")


@dataclass(frozen=True, slots=True)
class Rule:
    """Coolant-side members, the default first, for some coolants in one regime.

    ``fluids`` empty means any; ``regime`` is above ("dense") or below ("liquid") the critical
    pressure. The first rule that fits holds. ``others`` is why general forms are left out.
    """

    fluids: tuple[str, ...]
    regime: Literal["dense", "liquid", "any"]
    members: tuple[str, ...]
    text: str
    others: str


SUPERCRITICAL = "fitted to supercritical water and carbon dioxide"
CONSTANT = (
    "made for a small difference between wall and bulk; optimistic by 2 to 4, and a viscosity "
    "ratio alone does not describe the pseudo-critical range"
)

LIQUIDS = ("gnielinski", "sieder_tate", "dittus_boelter", "petukhov_kirillov_popov")

RULES = (
    Rule(
        ("hydrogen",),
        "any",
        ("miller", "hess_kunz", "taylor", "mccarthy_wolf"),
        "hydrogen takes the four forms fitted to it, first the nearest to twelve measured walls",
        "general form: optimistic by 2 to 4 where the wall is over twice the bulk",
    ),
    Rule(
        ("n-dodecane",),
        "any",
        (
            *LIQUIDS,
            *("hines_wolf", "utrc_kerosene", "nasa_kerosene", "textbook_kerosene"),
        ),
        "a liquid hydrocarbon takes the forms of liquids and those fitted to kerosene",
        SUPERCRITICAL,
    ),
    Rule(
        (OWN_FLUID,),
        "any",
        LIQUIDS,
        "a fluid of the case's own table takes the forms of liquids",
        "it asks for the critical point, which a table of the case's own has not",
    ),
    Rule(
        ("oxygen",),
        "dense",
        ("spencer_rousar", "jackson", "krasnoshchekov_protopopov", "gnielinski"),
        "oxygen above its critical pressure takes the form fitted to it, and general ones",
        CONSTANT,
    ),
    Rule(
        (),
        "dense",
        ("krasnoshchekov_protopopov", "jackson", "gnielinski"),
        "above the critical pressure: two supercritical forms that lie far apart, and Gnielinski's",
        CONSTANT,
    ),
    Rule(
        (),
        "liquid",
        LIQUIDS,
        "below the critical pressure: the forms of liquids",
        SUPERCRITICAL,
    ),
)

NEAR_CRITICAL = ("bishop", "mokry", "swenson", "petukhov1983")
NEAR_CRITICAL_PRESSURE = 1.25
"""Pressure over critical up to which the forms of near-critical water join the dense rules, where
the coolant also enters below its pseudo-critical temperature: the end of their data."""

WATER_DATA = "fitted to water at 1.03 to 1.25 critical pressures"
NO_WALL = (
    "; tried in methane at twice its critical pressure, it found no wall within the properties "
    "with most gas-side forms"
)


@dataclass(frozen=True, slots=True)
class Choice:
    """Members of one role, the default first, the reason for each one left out, the rule."""

    members: tuple[str, ...]
    excluded: dict[str, str]
    text: str = ""


def _choose(
    members: tuple[str, ...], known: dict[str, int], reasons: dict[str, str], text: str = ""
) -> Choice:
    """Return the members that the registry has, and why its others are left out."""
    held = tuple(name for name in members if name in known)
    left_out = {name: reasons.get(name, "") for name in known if name not in held}
    return Choice(held, left_out, text)


def gas_side(*, fitted: bool = False) -> Choice:
    """Return the gas-side members: all correlations apply to combustion gas in a chamber.

    ``fitted`` is True where the case gives the throat's factor: it replaces ``LOW_THROAT``.
    """
    low = {} if fitted else {LOW_THROAT: len(GAS_SIDE)}
    choice = _choose((*GAS_SIDE_MEMBERS, LOW_THROAT), GAS_SIDE | low, {})
    return Choice(choice.members, choice.excluded | ({LOW_THROAT: FITTED} if fitted else {}))


def friction(named: str = ONE_FORMULA[0]) -> Choice:
    """Return the friction members where a case names one: no formula stands twice."""
    first = named if named in ONE_FORMULA else ONE_FORMULA[0]
    members = tuple(first if name in ONE_FORMULA else name for name in FRICTION_MEMBERS)
    same = {name: f"the same formula as {first}" for name in ONE_FORMULA}
    return _choose(members, FRICTION, same)


def correlations_of(member: str) -> list[str]:
    """Return the correlations of a member of the band by its name."""
    return [correlation_of(name)[0] for name in member.split(" + ")]


def coolant_side(fluid: str, p_r: float, T_r: float, lowest: float | None = None) -> Choice:
    """Return the coolant-side members for a coolant, the default first, and why others are out.

    ``p_r`` and ``lowest`` are the highest and lowest pressure along the slots over the critical
    [-], ``T_r`` the inlet temperature over the pseudo-critical at the former. Where the pressure
    lies on both sides of the critical the forms of both apply, the dense fluid's first; between
    ``balance.NEAR_CRITICAL`` of it and the critical the march asks for both everywhere.
    """
    regimes = [
        regime
        for regime, there in (
            ("dense", p_r >= HELD_AS_DENSE),
            ("liquid", (p_r if lowest is None else lowest) < 1.0),
        )
        if there
    ]
    rules = [
        next(
            rule
            for rule in RULES
            if (not rule.fluids or fluid in rule.fluids) and rule.regime in (regime, "any")
        )
        for regime in regimes
    ]
    rule = rules[0]
    members, text = rule.members, rule.text
    if rule.regime == "dense" and _near_critical(p_r, T_r):
        members += NEAR_CRITICAL
        text += f"; near-critical ones up to {NEAR_CRITICAL_PRESSURE:g} critical pressures"
    if rules[-1] is not rule:
        members = tuple(dict.fromkeys((*members, *rules[-1].members)))
        text += (
            f"; {rules[-1].text}; along the slots the pressure is above {HELD_AS_DENSE:g} of the "
            "critical and below the critical, so that both count"
        )
    reasons = {name: _reason(name, fluid, rule, p_r, T_r) for name in COOLANT_SIDE}
    return _choose(members, COOLANT_SIDE, reasons, text)


def _near_critical(p_r: float, T_r: float) -> bool:
    return p_r <= NEAR_CRITICAL_PRESSURE and T_r < 1.0


def _reason(name: str, fluid: str, rule: Rule, p_r: float, T_r: float) -> str:
    """Return why a coolant-side form is left out, should it be."""
    if not CORRELATIONS[name].fits(fluid):
        return f"fitted to {CORRELATIONS[name].made_for}"
    if CORRELATIONS[name].fluids:
        return f"fitted to {fluid} above its critical pressure"
    if rule.regime == "dense" and name in NEAR_CRITICAL:
        if T_r >= 1.0:
            return "made for a bulk that enters below the pseudo-critical temperature"
        tail = "" if name == "swenson" else NO_WALL
        return f"{WATER_DATA}, and the coolant enters at {p_r:.2f}{tail}"
    return rule.others


def boiling(fluid: str) -> Choice:
    """Return the nucleate-boiling members: those fitted to the fluid first, then the general."""
    fits = [name for name in BOILING if CORRELATIONS[name].fits(fluid)]
    members = sorted(fits, key=lambda name: not CORRELATIONS[name].fluids)
    others = {name: f"fitted to {CORRELATIONS[name].made_for}" for name in BOILING}
    return _choose(tuple(members), BOILING, others)


@dataclass(frozen=True, slots=True)
class MeasuredThroat:
    """Measured throat flux over that of the conservative form on the same wall [-]."""

    chamber: str
    ratio: float
    source: str
    mark: str


@cache
def measured_throats() -> tuple[MeasuredThroat, ...]:
    """Return the throats that were measured, by rising ratio."""
    path = DATA / "measured_throats.toml"
    rows = tomllib.loads(path.read_text(encoding="utf-8"))["throat"]
    return tuple(sorted((MeasuredThroat(**row) for row in rows), key=lambda row: row.ratio))


def against_measurement() -> str:
    """Return how many measured throats lie below and above the gas-side members."""
    throats = measured_throats()
    below = [row.ratio for row in throats if row.ratio < MEASURED_THROAT]
    above = [row.ratio for row in throats if row.ratio > HIGHEST_THROAT]
    return (
        f"of {len(throats)} measured throat fluxes {len(below)} lie below all gas-side members of "
        f"a band ({min(below):.2g} to {max(below):.2g} of the closed form) and {len(above)} above "
        f"({max(above):.2g})"
    )

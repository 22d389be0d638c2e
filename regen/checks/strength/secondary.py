"""Limits of stress that heat makes: reported, but they never decide; strain range and life do."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache

import numpy as np

from regen.checks.runs import Compared, Limit, Rule, Run, Solved
from regen.checks.strength import stresses as strength
from regen.checks.strength.mismatch import mismatch
from regen.checks.strength.strain import REST, thermal_strain
from regen.errors import MissingProperty, RangeError
from regen.metals.alloys import AlloyCondition
from regen.result import Array


def secondary(
    solved: Solved, jacket: AlloyCondition, T_jacket: Callable[[Run], Array]
) -> tuple[Rule, ...]:
    """Return the limits that only inform.

    Parameters
    ----------
    solved : Solved
        Solved runs with design and liner.
    jacket : AlloyCondition
        Metal of the jacket.
    T_jacket : callable
        Gives its temperature in a run (..., S) [K].

    Returns
    -------
    tuple of Rule
        Temperature of the jacket by two marks, shakedown, ratcheting, buckling of the hot wall,
        and what the liner does to the jacket.
    """

    @cache
    def apart(run: Run) -> Array:
        return _apart(solved.alloy, jacket, _wall_mean(run), T_jacket(run))

    return (
        *_jacket_temperature(solved, jacket, T_jacket),
        _thermal(solved),
        _ratchet(solved, apart),
        _buckling(solved, apart),
        _reaction(solved, jacket, T_jacket),
    )


def _thermal(solved: Solved) -> Rule:
    text = "thermal stress of the hot wall as a range, against twice the yield"
    note = "secondary: beyond it the wall yields each firing, and life decides"
    limit = Limit("thermal_stress", text, "Pa", "huzel_huang1967", note=note, informative=True)

    def compare(run: Run) -> Compared:
        s = run.stations
        return Compared(*strength.thermal(solved.alloy, s["T_wall_hot_K"], s["T_wall_cold_K"]))

    return Rule(limit, compare)


def _wall_mean(run: Run) -> Array:
    return 0.5 * (run.stations["T_wall_hot_K"] + run.stations["T_wall_cold_K"])


def _apart(liner: AlloyCondition, jacket: AlloyCondition, T: Array, T_jacket: Array) -> Array:
    """Return liner less jacket since rest (..., S) [-], NaN where it is not tabulated."""
    liner, jacket = (replace(metal, beyond="nan") for metal in (liner, jacket))
    return thermal_strain(liner, T, REST) - thermal_strain(jacket, T_jacket, REST)


def _properties(solved: Solved, T: Array, names: tuple[str, ...]) -> list[Array]:
    """Return properties of the liner (..., S) [SI], NaN where they are not tabulated."""
    liner = replace(solved.alloy, beyond="nan")
    return [liner.value(name, T).value for name in names]


def _where_known(value: Array, limit: Array) -> Compared:
    """Compare where both are known; say how many stations that leaves out."""
    known = np.isfinite(value) & ~np.isnan(limit)
    missing = known.size - int(np.count_nonzero(known))
    if missing == known.size:
        text = "a property of liner or jacket is not tabulated at any of these temperatures"
        raise RangeError(text)
    note = f"{missing} stations left out: a property is not tabulated there" if missing else ""
    # a design without any known station among others that have some is not evaluated
    none = ~known.any(axis=-1, keepdims=True)
    value = np.where(known, value, np.where(none, np.nan, 0.0))
    return Compared(value, np.where(known, limit, 1.0), known | none, note)


def _ratchet(solved: Solved, apart: Callable[[Run], Array]) -> Rule:
    text = "thermal stress range, wall and mismatch, against that which ratchets under pressure"
    note = "Bree's bounds with the hot wall's pressure stress as the steady one"
    limit = Limit("ratchet", text, "Pa", "bree1967", note=note, informative=True)

    def compare(run: Run) -> Compared:
        s = run.stations
        T, e = _wall_mean(run), apart(run)
        names = ("youngs_modulus", "poisson_ratio", "yield")
        E, nu, s_y = _properties(solved, T, names)
        through = thermal_strain(
            replace(solved.alloy, beyond="nan"), s["T_wall_hot_K"], s["T_wall_cold_K"]
        )
        Q = E / (1.0 - nu) * (0.5 * through + np.abs(e))
        dp = s["p_coolant_Pa"] - s["p_gas_Pa"]
        P = strength.ligament_stress(dp, s["channel_width_m"], s["wall_m"])
        # a wall beyond its yield under pressure has no room left, but a limit must not be zero
        return _where_known(Q, np.maximum(strength.ratchet_limit(P, s_y), 0.01 * s_y))

    return Rule(limit, compare)


def _buckling(solved: Solved, apart: Callable[[Run], Array]) -> Rule:
    text = "hot wall pressed along the axis by its own heat, against wrinkling"
    tangent = _tangent(solved.alloy)
    note = (
        "by the reduced modulus"
        if tangent
        else f"elastic: no tangent_modulus of {solved.alloy} is tabulated, so the wall wrinkles"
        " earlier once it has yielded; lands and bond, which hold it, are not credited"
    )
    limit = Limit("wall_buckling", text, "Pa", "inelastic_buckling", note=note, informative=True)

    def compare(run: Run) -> Compared:
        s = run.stations
        T, e = _wall_mean(run), apart(run)
        E, nu = _properties(solved, T, ("youngs_modulus", "poisson_ratio"))
        by = E
        if tangent:
            by = strength.reduced_modulus(E, _properties(solved, T, ("tangent_modulus",))[0])
        critical = strength.buckling_stress(by, s["wall_m"], s["r_m"], nu)
        return _where_known(np.maximum(E * e, 0.0), critical)

    return Rule(limit, compare)


def _tangent(liner: AlloyCondition) -> bool:
    try:
        liner.table("tangent_modulus")
    except MissingProperty:
        return False
    return True


def _jacket_temperature(
    solved: Solved, jacket: AlloyCondition, T_jacket: Callable[[Run], Array]
) -> Iterator[Rule]:
    service, metal = solved.design.limits.service, jacket.alloy
    marks = (
        (
            "jacket_load_temperature",
            f"jacket on the lands, strength of {metal.key} under load",
            metal.loaded_to,
            "beyond it strength falls fast and creep begins: the coupon's strength hot decides",
        ),
        (
            "jacket_temperature",
            f"jacket on the lands, {service} service of {metal.key}",
            jacket.limit(service),
            "beyond it the metal softens or turns brittle for good; its hot strength decides",
        ),
    )
    for name, text, fact, note in marks:
        if fact is None:
            continue
        limit = Limit(name, text, "K", fact.source, note=note, informative=True)

        def compare(run: Run, mark: float = fact.value) -> Compared:
            T = T_jacket(run)
            return Compared(T, np.full(T.shape, mark))

        yield Rule(limit, compare)


def _reaction(solved: Solved, jacket: AlloyCondition, T_jacket: Callable[[Run], Array]) -> Rule:
    text = "jacket as it runs: what the liner's growth, capped at its yield, pulls it with"
    note = f"secondary, against the yield of {jacket}"
    limit = Limit("jacket_reaction", text, "Pa", "layer_mismatch", note=note, informative=True)

    def compare(run: Run) -> Compared:
        both, T = (solved.alloy, jacket), T_jacket(run)
        found = mismatch(solved.design, both, run, _wall_mean(run), T)
        allowed = replace(jacket, beyond="nan").value("yield", T).value
        compared = _where_known(np.abs(found.jacket), allowed)
        note = "; ".join(part for part in (compared.note, found.note) if part)
        return compared._replace(note=note)

    return Rule(limit, compare)

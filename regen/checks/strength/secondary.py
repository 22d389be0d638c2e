"""Limits of stress that heat makes: reported, but they never decide; strain range and life do."""

from __future__ import annotations

import numpy as np

from regen.checks.findings import joined, text
from regen.checks.registry import Fields, limit
from regen.checks.runs import Compared, Run, Solved, against, once
from regen.checks.strength import stresses
from regen.checks.strength.primary import ligament
from regen.checks.strength.strain import REST, mismatch, thermal_strain
from regen.checks.strength.structure import jacket_T
from regen.errors import RangeError
from regen.metals.alloys import AlloyCondition, Fact
from regen.result import Array


def _service_limit(solved: Solved) -> Fact | None:
    return solved.jacket.limit(solved.design.limits.service)


def _load_terms(solved: Solved) -> Fields | None:
    metal = solved.jacket.alloy
    fact, text = metal.loaded_to, f"jacket on the lands, strength of {metal.key} under load"
    return fact and {"text": text, "source": fact.source}


def _service_terms(solved: Solved) -> Fields | None:
    fact, service = _service_limit(solved), solved.design.limits.service
    text = f"jacket on the lands, {service} service of {solved.jacket.alloy.key}"
    return fact and {"text": text, "source": fact.source}


def _jacket_against(solved: Solved, run: Run, fact: Fact | None) -> Compared:
    return against(jacket_T(solved, run), fact.value if fact else np.nan)


@limit(_load_terms, group="thermal stress", unit="K", source="wall_limits", informative=True)
def jacket_load_temperature(solved: Solved, run: Run) -> Compared:
    """Jacket on the lands, strength under load."""
    return _jacket_against(solved, run, solved.jacket.alloy.loaded_to)


@limit(_service_terms, group="thermal stress", unit="K", source="wall_limits", informative=True)
def jacket_temperature(solved: Solved, run: Run) -> Compared:
    """Jacket on the lands, by alloy and service."""
    return _jacket_against(solved, run, _service_limit(solved))


@limit(group="thermal stress", unit="Pa", source="huzel_huang1967", informative=True)
def thermal_stress(solved: Solved, run: Run) -> Compared:
    """Thermal stress of the hot wall as a range, against twice the yield."""
    s = run.stations
    return stresses.thermal(solved.alloy, s["T_wall_hot_K"], s["T_wall_cold_K"])


@once
def _apart(solved: Solved, run: Run) -> Array:
    """Return liner less jacket since rest (..., S) [-], NaN where it is not tabulated."""
    liner, jacket = (metal.quiet for metal in (solved.alloy, solved.jacket))
    T_jacket = jacket_T(solved, run)
    return thermal_strain(liner, run.T_wall, REST) - thermal_strain(jacket, T_jacket, REST)


def _where_known(value: Array, limit: Array, note: str = "") -> Compared:
    """Compare where both are known; say how many stations that leaves out."""
    known = np.isfinite(value) & ~np.isnan(limit)
    missing = known.size - int(np.count_nonzero(known))
    if missing == known.size:
        message = "a property of liner or jacket is not tabulated at any of these temperatures"
        raise RangeError(message)
    left_out = f"{missing} stations left out: a property is not tabulated there" if missing else ""
    # a design without any known station among others that have some is not evaluated
    none = ~known.any(axis=-1, keepdims=True)
    value = np.where(known, value, np.where(none, np.nan, 0.0))
    return Compared(value, np.where(known, limit, 1.0), known | none, joined(left_out, note))


@limit(group="thermal stress", unit="Pa", source="bree1967", informative=True)
def ratchet(solved: Solved, run: Run) -> Compared:
    """Thermal stress range, wall and mismatch, against that which ratchets under pressure."""
    s, e, liner = run.stations, _apart(solved, run), solved.alloy.quiet
    E, nu, s_y = (
        liner.value(name, run.T_wall).value for name in ("youngs_modulus", "poisson_ratio", "yield")
    )
    through = thermal_strain(liner, s["T_wall_hot_K"], s["T_wall_cold_K"])
    Q = E / (1.0 - nu) * (0.5 * through + np.abs(e))
    P = ligament(run, run.dp_wall)
    # a wall beyond its yield under pressure has no room left, but a limit must not be zero
    return _where_known(Q, np.maximum(stresses.ratchet_limit(P, s_y), 0.01 * s_y))


def _tangent(liner: AlloyCondition) -> bool:
    return liner.known("tangent_modulus") is not None


def _buckling_terms(solved: Solved) -> Fields:
    if _tangent(solved.alloy):
        return {"note": "by the reduced modulus"}
    return {"note": text("row: elastic buckling", metal=solved.alloy)}


@limit(
    _buckling_terms,
    group="thermal stress",
    unit="Pa",
    source="inelastic_buckling",
    informative=True,
)
def wall_buckling(solved: Solved, run: Run) -> Compared:
    """Hot wall pressed along the axis by its own heat, against wrinkling."""
    s, e, liner = run.stations, _apart(solved, run), solved.alloy.quiet
    E, nu = (liner.value(name, run.T_wall).value for name in ("youngs_modulus", "poisson_ratio"))
    by = E
    if _tangent(solved.alloy):
        by = stresses.reduced_modulus(E, liner.value("tangent_modulus", run.T_wall).value)
    critical = stresses.buckling_stress(by, s["wall_m"], s["r_m"], nu)
    return _where_known(np.maximum(E * e, 0.0), critical)


@limit(
    lambda solved: {"note": f"secondary, against the yield of {solved.jacket}"},
    group="thermal stress",
    unit="Pa",
    source="layer_mismatch",
    informative=True,
)
def jacket_reaction(solved: Solved, run: Run) -> Compared:
    """Jacket in operation: what the liner's growth, capped at its yield, pulls it with."""
    T = jacket_T(solved, run)
    grown = mismatch(solved, run, run.T_wall, T)
    allowed = solved.jacket.quiet.value("yield", T).value
    return _where_known(np.abs(grown.jacket), allowed, grown.note)

"""Which correlations each run is solved with: named by the case, or by the rule for its coolant."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regen.gas import flux
from regen.physics import arrays as A
from regen.physics._dispatch import BOILING, COOLANT_SIDE, FRICTION, GAS_SIDE
from regen.physics.balance import NEAR_CRITICAL
from regen.physics.tables import pseudo_critical_T
from regen.solver import bands
from regen.solver.prepare import Array, Prepared

Names = Mapping[str, str]
"""A correlation by role."""

IDS = {
    "gas_side": GAS_SIDE,
    "coolant_side": COOLANT_SIDE,
    "friction": FRICTION,
    "boiling": BOILING,
}


def ids(names: Names) -> NDArray[Any]:
    """Return the ids (1,) of correlations named for every role, gas-side factor included."""
    row = np.zeros(1, dtype=A.MODEL)
    gas_side, row["throat_factor"] = flux.correlation_of(names["gas_side"])
    for role, name in {**names, "gas_side": gas_side}.items():
        row[role] = IDS[role][name]
    return row


def ids_of(rows: Sequence[Names]) -> NDArray[Any]:
    """Return the ids (L,) of L runs; those of the same correlations may share one mapping."""
    own = {id(names): names for names in rows}
    place = {key: n for n, key in enumerate(own)}
    known = np.concatenate([ids(names) for names in own.values()])
    return known[[place[id(names)] for names in rows]]


def first_models(prepared: Prepared) -> list[Names]:
    """Return the correlations by role that each nominal run is first solved with.

    What is given of its feed says in which regime the coolant is.
    """
    pressure = prepared.runs["pressure"][:, 0]
    boiling = bands.boiling(prepared.design.coolant.correlated_as).members[0]
    rows, known = [], dict[tuple[str, ...], Names]()
    choices = span_choices(prepared, pressure, pressure)
    for design, choice in zip(prepared.designs, choices, strict=True):
        models = design.models
        names = (
            flux.nominal_gas_side(models),
            models.coolant_side or choice.members[0],
            models.friction,
            models.boiling or boiling,
        )
        rows.append(known.setdefault(names, dict(zip(IDS, names, strict=True))))
    return rows


def chosen_models(prepared: Prepared) -> dict[str, str]:
    """Return the correlation of each role that one design is first solved with."""
    return dict(first_models(prepared)[0])


def model_row(prepared: Prepared, **named: str) -> NDArray[Any]:
    """Return the ids (1,) of these correlations, with some replaced by name."""
    return ids({**chosen_models(prepared), **named})


def coolant_choice(
    prepared: Prepared, n: int = 0, span: tuple[float, float] | None = None
) -> bands.Choice:
    """Return the coolant-side members by the rule for a design's coolant and its states.

    ``span`` is the lowest and highest pressure along the slots [Pa]; before anything is solved, the
    pressure that is given of the feed stands for both.
    """
    feed, table = prepared.runs[n, 0], prepared.coolant
    low, high = span or (float(feed["pressure"]),) * 2
    T_r = float(feed["inlet_temperature"]) / pseudo_critical_T(table, high)
    fluid, p_c = prepared.design.coolant.correlated_as, table.p_critical
    return bands.coolant_side(fluid, high / p_c, T_r, low / p_c)


def span_choices(prepared: Prepared, low: Array, high: Array) -> list[bands.Choice]:
    """Return ``coolant_choice`` of each design for the pressures along its slots (L,) [Pa].

    The rule is asked once for all designs far above the critical pressure, and once for all far
    below.
    """
    p_c = prepared.coolant.p_critical
    known: dict[tuple[float, ...], bands.Choice] = {}
    choices = []
    T_in = prepared.runs["inlet_temperature"][:, 0]
    for n, (T, *span) in enumerate(zip(T_in.tolist(), low.tolist(), high.tolist(), strict=True)):
        above = span[0] > bands.NEAR_CRITICAL_PRESSURE * p_c
        below = span[1] < NEAR_CRITICAL * p_c
        key = (float(above),) if above or below else (T, *span)
        if key not in known:
            known[key] = coolant_choice(prepared, n, (span[0], span[1]))
        choices.append(known[key])
    return choices


def member_names(
    chosen: Names, coolant: bands.Choice, *, fitted: bool = False
) -> tuple[list[dict[str, str]], dict[str, str]]:
    """Return every combination of applicable correlations, and why others are left out.

    A member has a name by role of gas side, coolant side and friction; its gas side may be
    ``flux.LOW_THROAT``, unless the case gives the throat's factor (``fitted``).
    """
    choices = {
        "gas_side": bands.gas_side(fitted=fitted),
        "coolant_side": coolant,
        "friction": bands.friction(chosen["friction"]),
    }
    options = {
        role: tuple(dict.fromkeys((chosen[role], *choice.members)))
        for role, choice in choices.items()
    }
    names = [dict(zip(options, member, strict=True)) for member in product(*options.values())]
    excluded = {
        name: reason
        for role, choice in choices.items()
        for name, reason in choice.excluded.items()
        if name not in options[role]
    }
    return names, excluded

"""From a design to solved stations: nominal lane, bands and the worst channel.

The physics is one call of the compiled march for the nominal design, and one for all band members
and the worst channel together.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regen import bands
from regen.contour import Passage, build_passage
from regen.design import Design, Profile
from regen.physics import arrays as A
from regen.physics import status as st
from regen.physics._dispatch import BOILING, COOLANT_SIDE, FRICTION, GAS_SIDE
from regen.physics.batch import run
from regen.prepare import Array, Prepared, Progress, flow_order, geometry_of, prepare

MIN_BAND = 0.25
"""Least half-width of the bands on wall temperature above coolant and on pressure drop."""


class MarchError(RuntimeError):
    """The design could not be solved: what stopped the march, where, and what to do.

    Parameters
    ----------
    code : int
        Status of the march [-].
    x : float
        Axial position where it stopped [m].
    detail : str
        Coolant state there, in words.
    """

    def __init__(self, code: int, x: float, detail: str = "") -> None:
        text = st.TEXTS[code]
        self.status = text.name
        self.station_x = x
        self.remedy = text.remedy
        where = f" (reached at x = {x * 1e3:.1f} mm{'; ' + detail if detail else ''})"
        super().__init__(f"not solved: {text.what}{where}. What to do: {text.remedy}.")


@dataclass(frozen=True)
class Marched:
    """One solved lane: stations in rising x (S, ``A.N_STATION_OUT``), totals, outcome."""

    name: str
    station: Array
    total: Array
    code: int
    stop: int

    @property
    def ok(self) -> bool:
        """True if the lane was solved."""
        return self.code == st.OK


@dataclass(frozen=True)
class Solution:
    """Nominal lane, band members, worst channel, and what they were prepared from."""

    prepared: Prepared
    nominal: Marched
    members: tuple[Marched, ...]
    worst: Marched
    worst_passage: Passage
    excluded: dict[str, str]


def model_row(prepared: Prepared, **named: str) -> NDArray[Any]:
    """Return the ids of the chosen models, with some replaced by name.

    Parameters
    ----------
    prepared : Prepared
        Design and regime.
    **named : str
        Correlation names by role, overriding the design's choice.

    Returns
    -------
    structured ndarray (1,)
        ``arrays.MODEL``.
    """
    names = {**chosen_models(prepared), **named}
    row = np.zeros(1, dtype=A.MODEL)
    ids = {
        "gas_side": GAS_SIDE,
        "coolant_side": COOLANT_SIDE,
        "friction": FRICTION,
        "boiling": BOILING,
    }
    for role, known in ids.items():
        row[role] = known[names[role]]
    return row


def chosen_models(prepared: Prepared) -> dict[str, str]:
    """Return the name of the nominal correlation of each role.

    Parameters
    ----------
    prepared : Prepared
        Design and regime.

    Returns
    -------
    dict
        Name by role.
    """
    design = prepared.design
    fluid = design.coolant.fluid
    models = design.models
    default = bands.coolant_side(fluid, prepared.supercritical).members[0]
    return {
        "gas_side": models.gas_side,
        "coolant_side": models.coolant_side or default,
        "friction": models.friction,
        "boiling": models.boiling or bands.boiling(fluid).members[0],
    }


def _marched(prepared: Prepared, name: str, out: A.Out, status: Any, n: int) -> Marched:
    code, stop = int(status[n, 0]), int(status[n, 1])
    return Marched(name, prepared.rising(out.station[n]), out.total[n], code, stop)


def solve_nominal(prepared: Prepared) -> Marched:
    """Solve the nominal lane.

    Parameters
    ----------
    prepared : Prepared
        Tables and arrays.

    Returns
    -------
    Marched
        The solved lane.

    Raises
    ------
    MarchError
        If the march stops.
    """
    out, status = run(
        prepared.geometry,
        prepared.gas,
        prepared.coolant,
        prepared.walls,
        prepared.lane,
        model_row(prepared),
    )
    nominal = _marched(prepared, "nominal", out, status, 0)
    if not nominal.ok:
        raise _failure(prepared, nominal)
    return nominal


def _failure(prepared: Prepared, lane: Marched) -> MarchError:
    order = flow_order(prepared.design, prepared.passage.x)
    index = min(lane.stop, order.size - 1)
    detail = ""
    if lane.stop > 0:
        last = flow_order(prepared.design, lane.station)[lane.stop - 1]
        detail = (
            f"the station before has coolant at {last[A.O_T_COOLANT]:.0f} K, "
            f"{last[A.O_P_COOLANT] / 1e5:.1f} bar, {last[A.O_V_COOLANT]:.0f} m/s"
        )
    return MarchError(lane.code, float(order[index]), detail)


def _worst_passage(prepared: Prepared) -> tuple[Passage, float]:
    """Return the passage of one slot at the bad end of the tolerances, and its share of flow.

    The slot is narrow and shallow and its hot wall thick. At the pressure drop of its
    neighbours it takes less coolant: flow ~ A Dh^(2/3), from a friction factor ~ Re^-0.2.
    """
    design, shop = prepared.design, prepared.design.shop

    def shifted(profile: Profile, by: float) -> Profile:
        return Profile(profile.x, tuple(v + by for v in profile.value))

    channels = replace(
        design.channels,
        width=shifted(design.channels.width, -shop.width_tolerance),
        depth=shifted(design.channels.depth, -shop.depth_tolerance),
    )
    liner = replace(design.liner, wall=shifted(design.liner.wall, shop.wall_tolerance))
    nominal = prepared.passage
    closeout = design.closeout.copper + design.closeout.nickel
    worst = build_passage(prepared.contour, channels, liner, closeout, nominal.x)

    def conductance(passage: Passage) -> Array:
        area = passage.width * passage.depth
        diameter = 2.0 * area / (passage.width + passage.depth)
        return np.asarray(area * diameter ** (2.0 / 3.0))

    share = float(np.min(conductance(worst) / conductance(nominal)))
    return worst, share


def solve(design: Design, progress: Progress | None = None) -> Solution:
    """Solve a design: nominal lane, band members and worst channel.

    Parameters
    ----------
    design : Design
        Checked design.
    progress : callable, optional
        Told in words what is being waited for.

    Returns
    -------
    Solution
        Solved lanes. Band members that fail keep their status and are left out of the bands.

    Raises
    ------
    MarchError
        If the nominal lane stops.
    ValueError
        If the geometry is impossible or a material or property is not known.
    """
    say = progress or (lambda text: None)
    prepared = prepare(design, progress)
    say("march along the channel (the first run compiles it: half a minute, then cached)")
    nominal = solve_nominal(prepared)
    names, excluded = _member_names(prepared)
    worst_passage, share = _worst_passage(prepared)
    count = len(names)
    lanes = np.repeat(prepared.lane, count + 1)
    models = np.concatenate([model_row(prepared, **n) for n in names] + [model_row(prepared)])
    shop = design.shop
    lanes["geometry"][count] = 1
    lanes["flow_factor"][count] = (1.0 - shop.flow_shortfall) * share
    lanes["gas_factor"][count] = 1.0 + shop.streak
    # one bad slot changes neither the chamber nor the manifolds
    lanes["mass_flow"][count] = nominal.total[A.T_MASS_FLOW]
    lanes["fuel_share"][count] = 0.0
    lanes["h0"][count] = nominal.total[A.T_H0]
    lanes["returns"][count] = 0.0
    lanes["outlet_given"][count] = 0
    lanes["pressure"][count] = nominal.total[A.T_P_IN]
    out, status = run(
        geometry_of(design, (prepared.passage, worst_passage)),
        prepared.gas,
        prepared.coolant,
        prepared.walls,
        lanes,
        models,
    )
    members = tuple(
        _marched(prepared, " + ".join(name.values()), out, status, n)
        for n, name in enumerate(names)
    )
    worst = _marched(prepared, "worst channel", out, status, count)
    return Solution(prepared, nominal, members, worst, worst_passage, excluded)


def _member_names(prepared: Prepared) -> tuple[list[dict[str, str]], dict[str, str]]:
    """Return every combination of applicable correlations, and why others are left out."""
    chosen = chosen_models(prepared)
    choices = {
        "gas_side": bands.gas_side(),
        "coolant_side": bands.coolant_side(prepared.design.coolant.fluid, prepared.supercritical),
        "friction": bands.friction(),
    }
    options = {
        role: tuple(dict.fromkeys((chosen[role], *choice.members)))
        for role, choice in choices.items()
    }
    names = [
        {"gas_side": g, "coolant_side": c, "friction": f}
        for g in options["gas_side"]
        for c in options["coolant_side"]
        for f in options["friction"]
    ]
    excluded = {
        name: reason
        for role, choice in choices.items()
        for name, reason in choice.excluded.items()
        if name not in options[role]
    }
    return names, excluded

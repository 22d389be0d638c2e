"""What the shop can cut, as limits: lands, aspect of the slots, and its cutters.

They are of the drawing. The band has no geometry of its own, and what a slot may be off by the
shop's tolerances is no drawing: only the nominal run has a demand.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial

import numpy as np

from regen.checks.runs import Compared, Limit, Rule, Run, Solved
from regen.design import Cutter, Design, Shop
from regen.result import Array

ROUNDOFF = 1e-9
"""What a size may be off by rounding [-]: 3.76 over 0.47 is 8, and a bit beyond."""

FIT = 5e-6
"""A cutter has the slot's width if it differs by no more [m]: shops set no finer."""

SUDDEN = 1e-3
"""A width that changes within this length is a step between two widths, not a taper [m]."""

LAND = "land_width"
NAMES = frozenset({LAND, "slot_aspect", "cutter_width", "cutter_depth"})

ALONE = "of the drawing: band edge and worst channel have no demand of their own"


def least_land(shop: Shop) -> float:
    """Return the least width of a land [m]."""
    return shop.least_land * (1.0 - ROUNDOFF)


def greatest_aspect(shop: Shop) -> float:
    """Return the greatest depth of a slot over its width [-]."""
    return shop.greatest_aspect * (1.0 + ROUNDOFF)


def as_made(design: Design) -> Design:
    """Return a design whose slots may be off the drawing: the shop asks nothing of them."""
    free = replace(design.shop, least_land=1e-9, greatest_aspect=1e9, cutters=())
    return replace(design, shop=free)


def rules(solved: Solved) -> tuple[Rule, ...]:
    """Return the limits of the shop.

    Parameters
    ----------
    solved : Solved
        Solved runs with design; the nominal one is the drawing.

    Returns
    -------
    tuple of Rule
        Lands and aspect; with ``shop.cutters`` also their widths and depths, unless the chamber is
        printed. What a disc leaves of the floor, and whether its collar clears the lands, is
        weighed by ``shop.cutters.plan`` alone.
    """

    def of_the_drawing(compare: Callable[[Run], Compared], run: Run) -> Compared:
        found = compare(run)
        here = np.full(found.value.shape, run is solved.nominal)
        return found._replace(asked=here if found.asked is None else here & found.asked)

    return tuple(
        Rule(limit, partial(of_the_drawing, compare)) for limit, compare in _limits(solved.design)
    )


def drawing_rules(design: Design, slots: Mapping[str, Array]) -> tuple[tuple[Rule, Run], ...]:
    """Return the limits of the shop with the run of a drawing that nobody has solved.

    Parameters
    ----------
    design : Design
        Gives shop and route.
    slots : mapping
        Columns ``x_m``, ``channel_width_m``, ``channel_depth_m`` and ``land_width_m`` [m].

    Returns
    -------
    tuple
        Each rule with the run to be compared.
    """
    run = Run(slots, {})
    return tuple((Rule(limit, compare), run) for limit, compare in _limits(design))


def _limits(design: Design) -> list[tuple[Limit, Callable[[Run], Compared]]]:
    shop = design.shop
    found: list[tuple[Limit, Callable[[Run], Compared]]] = [
        (
            Limit(
                LAND,
                "thinnest land that the shop cuts, at the slot floor",
                "m",
                "common_practice",
                "min",
                note=f"shop.least_land, {ALONE}",
                shared=True,
            ),
            lambda run: _against(run.stations["land_width_m"], least_land(shop)),
        ),
        (
            Limit(
                "slot_aspect",
                "greatest depth of a slot over its width",
                "-",
                "common_practice",
                note=f"shop.greatest_aspect, {ALONE}",
                shared=True,
            ),
            lambda run: _against(_aspect(run), greatest_aspect(shop)),
        ),
    ]
    if shop.cutters and design.closeout.route != "printed":
        found += [
            (
                Limit(
                    "cutter_width",
                    "slot width off that of the nearest cutter which makes it",
                    "m",
                    "common_practice",
                    note=f"shop.cutters: a saw cuts its own width, an end mill any wider; {ALONE}",
                    shared=True,
                ),
                lambda run: _against(_off(run, shop.cutters).min(axis=0), FIT),
            ),
            (
                Limit(
                    "cutter_depth",
                    "slot depth that a cutter of its width reaches",
                    "m",
                    "common_practice",
                    note="shop.cutters: depth of cut, disc, and shop.greatest_aspect at the "
                    f"cutter's width; {ALONE}",
                    shared=True,
                ),
                partial(_reached, shop),
            ),
        ]
    return found


def _against(value: Array, limit: float) -> Compared:
    return Compared(value, np.full(value.shape, limit))


def _aspect(run: Run) -> Array:
    return np.asarray(run.stations["channel_depth_m"] / run.stations["channel_width_m"])


def _off(run: Run, cutters: tuple[Cutter, ...]) -> Array:
    """Return how far each cutter is from making the width at each station (C, ..., S) [m].

    A station within a step between two widths belongs to the narrower side, and makes no demand.
    """
    x, width = run.stations["x_m"], run.stations["channel_width_m"]
    wide = np.array([c.width for c in cutters]).reshape(-1, *[1] * width.ndim)
    saw = np.array([c.kind == "saw" for c in cutters]).reshape(wide.shape)
    off = np.where(saw, np.abs(wide - width), np.maximum(wide - width, 0.0))
    inner = np.zeros(width.shape, dtype=bool)
    change = np.abs(np.diff(width, axis=-1)) > FIT
    both = change[..., :-1] & change[..., 1:]
    inner[..., 1:-1] = both & (x[..., 2:] - x[..., :-2] <= SUDDEN + ROUNDOFF)
    return np.where(inner, 0.0, off)


def _reached(shop: Shop, run: Run) -> Compared:
    """Compare the depth with the reach of the cutters that make the width there."""
    depth, width = run.stations["channel_depth_m"], run.stations["channel_width_m"]
    fits = _off(run, shop.cutters) <= FIT
    reach = np.stack([_reach(shop, cutter, width) for cutter in shop.cutters])
    deepest = np.where(fits, reach, 0.0).max(axis=0)
    return Compared(depth, np.where(deepest > 0.0, deepest, 1.0), deepest > 0.0)


def _reach(shop: Shop, cutter: Cutter, width: Array) -> Array:
    """Return how deep a cutter goes in slots of a width (..., S) [m]."""
    own = cutter.depth + FIT if cutter.depth is not None else np.inf
    disc = 0.5 * cutter.diameter if cutter.diameter is not None else np.inf
    slender = greatest_aspect(shop) * np.minimum(cutter.width, width)
    return np.asarray(np.minimum(slender, min(own, disc)))

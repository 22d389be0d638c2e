"""What the shop can cut, as limits: lands, aspect of the slots, and its cutters.

They are of the drawing. The band has no geometry of its own, and what a slot may be off by the
shop's tolerances is no drawing: only the nominal run has a demand. What a disc leaves of the
floor, and whether its collar clears the lands, is judged by ``shop.cutters.plan`` alone.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from regen.checks.registry import Fields, limit, registered
from regen.checks.runs import Compared, Run, Solved, against
from regen.design import Cutter, Design, Shop
from regen.result import Array

ROUNDOFF = 1e-9
"""What a size may be off by rounding [-]: 3.76 over 0.47 is 8, and a bit beyond."""

FIT = 5e-6
"""A cutter has the slot's width if it differs by no more [m]: shops set no finer."""

SUDDEN = 1e-3
"""A width that changes within this length is a step between two widths, not a taper [m]."""

LAND = "land_width"


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


def _drawing(solved: Solved, run: Run, compared: Compared) -> Compared:
    """Return what is compared, with a demand of the drawing alone."""
    here = np.full(compared.value.shape, run is solved.nominal)
    return compared._replace(asked=here if compared.asked is None else here & compared.asked)


def _cutters_given(solved: Solved) -> Fields | None:
    design = solved.design
    return {} if design.shop.cutters and design.closeout.route != "printed" else None


@limit(group="shop", unit="m", kind="min", shared=True, key="shop.least_land")
def land_width(solved: Solved, run: Run) -> Compared:
    """Thinnest land that the shop cuts, at the slot floor."""
    lands = run.stations["land_width_m"]
    return _drawing(solved, run, against(lands, least_land(solved.design.shop)))


@limit(group="shop", unit="-", shared=True, key="shop.greatest_aspect")
def slot_aspect(solved: Solved, run: Run) -> Compared:
    """Greatest depth of a slot over its width."""
    aspect = np.asarray(run.stations["channel_depth_m"] / run.stations["channel_width_m"])
    return _drawing(solved, run, against(aspect, greatest_aspect(solved.design.shop)))


@limit(_cutters_given, group="shop", unit="m", shared=True, key="shop.cutters")
def cutter_width(solved: Solved, run: Run) -> Compared:
    """Slot width off that of the nearest cutter which makes it."""
    off = _off(run, solved.design.shop.cutters).min(axis=0)
    return _drawing(solved, run, against(off, FIT))


@limit(_cutters_given, group="shop", unit="m", shared=True, key="shop.cutters")
def cutter_depth(solved: Solved, run: Run) -> Compared:
    """Slot depth that a cutter of its width reaches."""
    depth, width = run.stations["channel_depth_m"], run.stations["channel_width_m"]
    shop = solved.design.shop
    reach = np.stack([_reach(shop, cutter, width) for cutter in shop.cutters])
    deepest = np.where(_off(run, shop.cutters) <= FIT, reach, 0.0).max(axis=0)
    some = deepest > 0.0
    return _drawing(solved, run, Compared(depth, np.where(some, deepest, 1.0), some))


NAMES = frozenset(one.limit.name for one in registered("shop"))


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


def _reach(shop: Shop, cutter: Cutter, width: Array) -> Array:
    """Return how deep a cutter goes in slots of a width (..., S) [m]."""
    own = cutter.depth + FIT if cutter.depth is not None else np.inf
    disc = 0.5 * cutter.diameter if cutter.diameter is not None else np.inf
    slender = greatest_aspect(shop) * np.minimum(cutter.width, width)
    return np.asarray(np.minimum(slender, min(own, disc)))

"""Sizing finds optima known in closed form: constant properties, flux and film law.

Wall temperature T = T_b + q (1/(C v^0.8) + t/k) depends on the speed alone, pressure drop is
f L/Dh rho v^2/2. A limit on T is a least speed, so a greatest flow area; at one area the drop is
least in a square slot.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from regen.case import load_case
from regen.studies.rows import LANES, blank
from regen.studies.size import size

WATER = Path(__file__).parents[1] / "water.toml"

FLOW, RHO, T_B, FLUX, FILM, RESISTANCE = 1.0, 1000.0, 300.0, 10e6, 4000.0, 2e-6
FRICTION, LENGTH = 0.02, 0.2
T_LIMIT = 500.0

ROUNDED = 0.02
"""Sizes are written to 0.01 mm: a per cent of a slot of 1 mm, on two sides; the drop goes with
more than the square of the area, and 0.1 % of the limit is kept in reserve."""

FLAT = 0.06
"""The drop is flat about the square: 6 % of a side is 0.2 % of the drop."""


def least_speed() -> float:
    """Speed at which the wall is at its limit, by hand."""
    film = FLUX / (T_LIMIT - T_B - FLUX * RESISTANCE)
    return (film / FILM) ** (1.0 / 0.8)


def drop(width: float, depth: float, count: float) -> float:
    speed = FLOW / (RHO * count * width * depth)
    diameter = 2.0 * width * depth / (width + depth)
    return FRICTION * LENGTH / diameter * 0.5 * RHO * speed**2


def values(lot, path: str, own: float):
    found = [lot.values[:, k] for k, key in enumerate(lot.keys) if key.path == path]
    return found[0] if found else np.full(len(lot), own)


class Model:
    """The closed form as a solver of lots; above ``choked`` [m/s] a row is not solved."""

    def __init__(self, choked: float = math.inf) -> None:
        self.choked, self.seen = choked, 0

    def __call__(self, lot, *, judged, threads=1, along=False, stationwise=False):
        channels = lot.design.channels
        width = values(lot, "channels.width", channels.width.value[0])
        depth = values(lot, "channels.depth", channels.depth.value[0])
        count = values(lot, "channels.count", channels.count)
        speed = FLOW / (RHO * count * width * depth)
        T = T_B + FLUX * (1.0 / (FILM * speed**0.8) + RESISTANCE)
        rows = blank(len(lot), judged)
        good = speed <= self.choked
        rows.status[:] = np.where(good, "solved", "choked")
        self.seen += len(lot)
        with np.errstate(invalid="ignore"):
            rows.summary["T_wall_hot_max_K"][:] = np.where(good, T, np.nan)
            drops = drop(width, depth, count)
            rows.summary["coolant_pressure_drop_Pa"][:] = np.where(good, drops, np.nan)
        rows.summary["land_width_min_m"][:] = np.where(good, 1e-3, np.nan)
        margin = np.where(good, 1.0 - T / T_LIMIT, np.nan)
        rows.margins["hot_wall_temperature"] = {lane: margin.copy() for lane in LANES}
        everywhere = np.repeat(margin[:, None], lot.design.models.stations, axis=1)
        rows.margins_along["hot_wall_temperature"] = {lane: everywhere.copy() for lane in LANES}
        return rows


def sized(model: Model, *overrides: str, seed: int = 0):
    more = ["sizing.depth_points=1", 'shop.least_land="0.1 mm"', 'channels.width="1 mm"']
    design = load_case(WATER, [*more, *overrides]).design
    return size(design, solve=model, seed=seed)


def by_name(found, name: str) -> float:
    names = [variable.key.name for variable in found.space.variables]
    return float(found.values[names.index(name)])


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_a_square_slot_of_the_greatest_area(seed):
    count = 36
    area = FLOW / (RHO * count * least_speed())
    found = sized(Model(), 'sizing.free=["width", "depth"]', seed=seed)
    assert found.feasible
    assert found.objective == pytest.approx(
        drop(math.sqrt(area), math.sqrt(area), count), rel=ROUNDED
    )
    assert found.objective > drop(math.sqrt(area), math.sqrt(area), count)  # none is better
    for name in ("channels.width", "channels.depth"):
        assert by_name(found, name) == pytest.approx(math.sqrt(area), rel=FLAT)
    assert found.active[0][0].limit == "hot_wall_temperature"


def test_the_count_is_the_greatest_whole_number_that_keeps_the_limit():
    """Width and depth of the case: N w d <= m/(rho v)."""
    design = load_case(WATER, ['channels.width="0.7 mm"']).design
    slot = 0.7e-3 * design.channels.depth.value[0]
    most = math.floor(FLOW / (RHO * slot * least_speed()))
    found = sized(Model(), 'sizing.free=["count"]', 'channels.width="0.7 mm"')
    assert found.feasible
    assert by_name(found, "channels.count") == most
    assert 18 < most < 72  # within the bounds: the limit decides, not they


def test_an_optimum_on_a_bound_is_named():
    found = sized(Model(), 'sizing.free=["depth"]', 'sizing.depth_to="0.9 mm"')
    assert by_name(found, "channels.depth") == pytest.approx(0.9e-3, rel=1e-9)
    assert found.at_bounds == (("channels.depth", "upper", pytest.approx(0.9e-3)),)


def test_the_coolest_wall_that_still_flows():
    """What is not solved is never an answer, however cool it would be."""
    fastest = 30.0
    found = sized(
        Model(choked=fastest), 'sizing.free=["depth"]', 'sizing.minimise="wall temperature"'
    )
    assert found.solved
    assert found.feasible
    speed = FLOW / (RHO * 36 * 1e-3 * by_name(found, "channels.depth"))
    assert 0.9 * fastest < speed <= fastest


def test_no_sizes_keep_a_limit_that_none_can():
    found = sized(Model(choked=0.8 * least_speed()), 'sizing.free=["width", "depth"]')
    assert not found.feasible
    assert found.active[0][1] < 0.0
    nothing = sized(Model(choked=0.0), 'sizing.free=["width", "depth"]')
    assert not nothing.solved
    assert not nothing.feasible


def test_same_seed_same_sizes():
    first, again = (sized(Model(), 'sizing.free=["width", "depth"]', seed=5) for _ in range(2))
    assert np.array_equal(first.values, again.values)


def test_a_width_is_one_of_the_shops_cutters():
    cutters = (
        '[{kind = "saw", width = "0.8 mm", depth = "2 mm"}, {kind = "end mill", width = "1.2 mm"}]'
    )
    found = sized(Model(), 'sizing.free=["width", "depth"]', f"shop.cutters={cutters}")
    width, depth = by_name(found, "channels.width"), by_name(found, "channels.depth")
    assert width in (0.8e-3, 1.2e-3)
    area = FLOW / (RHO * 36 * least_speed())
    best = min(drop(w, area / w, 36) for w in (0.8e-3, 1.2e-3))
    assert found.objective == pytest.approx(best, rel=ROUNDED)
    assert width * depth <= area


def test_fewer_points_are_asked_than_a_blind_search_takes():
    model = Model()
    sized(model, 'sizing.free=["width", "depth"]')
    assert model.seen < 4000

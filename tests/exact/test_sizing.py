"""Sizing finds optima that are known in closed form: constant properties, one friction factor."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from regen.design import Profile
from regen.studies.size.study import size
from tests.helpers import slots
from tests.helpers.slots import Model, chamber, drop, wall_temperature

STEP = 1e-5
"""Sizes are written in steps of 0.01 mm [m]."""

STEPPED = 1e-2
"""What the choice among steps may cost along a flat optimum [-]: one step of a size of 1.2 mm is
1.6 % of the pressure drop."""

COUNT, WIDTH, WALL = 36.0, 1e-3, 1e-3
RADIUS = 12.5e-3 + WALL
"""Of the slot floors at the throat of the test chamber [m]."""


def down(value: float) -> float:
    return float(np.floor(value / STEP + 1e-9) * STEP)


def up(value: float) -> float:
    return float(np.ceil(value / STEP - 1e-9) * STEP)


def free(*names: str) -> str:
    return "sizing.free=[" + ",".join(f'"{name}"' for name in names) + "]"


ONE_DEPTH = "sizing.depth_points=1"


def test_one_depth_lies_where_the_wall_temperature_reaches_its_limit():
    limit = 520.0
    root = brentq(lambda d: wall_temperature(COUNT, WIDTH, d, WALL) - limit, 3e-4, 2e-3)
    assert 1.1e-3 < root < 1.9e-3  # within the bounds, and not where the case began
    found = size(chamber(free("depth"), ONE_DEPTH), solve=Model(T_limit=limit))
    assert found.feasible
    assert found.values == pytest.approx([down(root)], abs=1e-12)
    assert found.trial.objective == pytest.approx(drop(COUNT, WIDTH, down(root)), rel=1e-12)
    assert {c.limit for c, _ in found.active} == {"hot_wall_temperature"}
    assert found.at_bounds == ()


def test_a_margin_moves_the_limit_by_its_share():
    limit, margin = 520.0, 0.03
    root = brentq(
        lambda d: 1.0 - wall_temperature(COUNT, WIDTH, d, WALL) / limit - margin, 3e-4, 2e-3
    )
    design = chamber(free("depth"), ONE_DEPTH, f"sizing.margin={margin}")
    assert size(design, solve=Model(T_limit=limit)).values == pytest.approx([down(root)], abs=1e-12)


def test_width_and_depth_end_in_a_square_slot():
    # at a given film coefficient v goes with Dh^0.25, the pressure drop with Dh^-0.5, and of
    # slots of one area the square has the greatest Dh
    limit = 500.0
    side = brentq(lambda a: wall_temperature(COUNT, a, a, WALL) - limit, 3e-4, 2e-3)
    assert side < 2.0 * np.pi * RADIUS / COUNT - 0.5e-3  # the lands do not decide
    bounds = ("sizing.width_from=0.6 mm", "sizing.width_to=1.8 mm", "sizing.depth_to=1.8 mm")
    found = size(chamber(free("width", "depth"), ONE_DEPTH, *bounds), solve=Model(T_limit=limit))
    assert found.feasible
    # the best pair on the steps, of all of them
    w, d = np.meshgrid(*2 * [np.arange(60, 181) * STEP])
    kept = wall_temperature(COUNT, w, d, WALL) <= limit
    assert found.trial.objective <= drop(COUNT, w, d)[kept].min() * (1.0 + STEPPED)
    assert found.values == pytest.approx([side, side], rel=0.05)  # flat: 5 % of a side are 0.1 %


def test_where_lands_are_thin_the_width_is_what_they_leave():
    limit, land = 500.0, 1.6e-3
    widest = down(2.0 * np.pi * RADIUS / COUNT - land)
    depth = down(brentq(lambda d: wall_temperature(COUNT, widest, d, WALL) - limit, 3e-4, 4e-3))
    found = size(
        chamber(free("width", "depth"), ONE_DEPTH, "shop.least_land=1.6 mm"),
        solve=Model(T_limit=limit),
    )
    assert found.values == pytest.approx([widest, depth], abs=1e-12)
    assert {c.limit for c, _ in found.active} == {"land", "hot_wall_temperature"}


def test_depth_over_width_holds_to_the_last_bit():
    # 0.94 mm are twice 0.47 mm, and a rounding error more
    design = chamber(free("depth"), ONE_DEPTH, "channels.width=0.47 mm", "shop.greatest_aspect=2")
    found = size(design, solve=Model())
    assert found.feasible
    assert found.values == pytest.approx([0.94e-3], abs=1e-12)


def test_a_count_is_its_root_rounded_down_where_more_slots_run_hotter():
    limit = 520.0
    root = brentq(lambda n: wall_temperature(n, WIDTH, 1e-3, WALL) - limit, 20, 72)
    assert 0.2 < root % 1.0 < 0.8
    assert np.floor(root) < 2.0 * np.pi * RADIUS / (WIDTH + 0.5e-3)
    found = size(chamber(free("count")), solve=Model(T_limit=limit))
    assert found.values.tolist() == [np.floor(root)]


def test_a_count_is_as_great_as_the_lands_allow():
    most = 2.0 * np.pi * RADIUS / (WIDTH + 0.5e-3)
    assert 0.2 < most % 1.0 < 0.8
    found = size(chamber(free("count", "depth")), solve=Model())
    assert found.values[0] == np.floor(most)
    land = min(
        v
        for c, v in zip(found.trial.names, found.trial.constraints, strict=True)
        if c.limit == "land"
    )
    pitch = 2.0 * np.pi * RADIUS / np.floor(most)
    # a station lies within 4 mm of the throat, where the radius is up to 2 % larger
    assert land == pytest.approx((pitch - WIDTH) / 0.5e-3 - 1.0, abs=0.02 * pitch / 0.5e-3)


def test_a_count_is_its_root_rounded_up_where_fewer_slots_choke():
    # the coolest wall has the fewest slots that the pressure drop allows
    most = 2.5e5
    root = brentq(lambda n: drop(n, WIDTH, 1e-3) - most, 20, 72)
    assert 0.2 < root % 1.0 < 0.8
    design = chamber(free("count"), "sizing.minimise=wall temperature")
    found = size(design, solve=Model(drop_limit=most))
    assert found.values.tolist() == [np.ceil(root)]
    assert found.trial.objective == pytest.approx(
        wall_temperature(np.ceil(root), WIDTH, 1e-3, WALL), rel=1e-12
    )


def test_a_loose_limit_leaves_the_optimum_on_a_bound():
    found = size(chamber(free("depth"), ONE_DEPTH), solve=Model())
    assert found.values == pytest.approx([2e-3], abs=1e-12)
    assert found.at_bounds == (("channels.depth", "upper", 2e-3),)
    assert found.active == ()


def test_least_mass_is_the_thinnest_wall_and_the_shallowest_slot_the_pump_allows():
    most = 4e5
    root = brentq(lambda d: drop(COUNT, WIDTH, d) - most, 3e-4, 2e-3)
    design = chamber(
        free("depth", "wall"), ONE_DEPTH, "sizing.minimise=mass", "sizing.wall_from=0.77 mm"
    )
    found = size(design, solve=Model(drop_limit=most))
    assert found.values == pytest.approx([up(root), 0.77e-3], abs=1e-12)
    assert found.trial.objective == pytest.approx(slots.DENSE * (up(root) + 0.77e-3), rel=1e-12)


def test_the_depth_follows_the_cutter_away_from_the_hot_throat():
    # one hot station asks for a shallow throat; elsewhere deeper is better, as fast as the slope
    limit, slope, points = 500.0, 0.02, 5
    design = chamber(free("depth"), f"sizing.depth_points={points}", f"sizing.depth_slope={slope}")

    def at_the_throat(x):
        return np.abs(x) == np.abs(x).min()

    found = size(design, solve=Model(T_limit=limit, hot=at_the_throat))
    x = np.array(found.design.channels.depth.x)
    throat = brentq(lambda d: wall_temperature(COUNT, WIDTH, d, WALL) - limit, 3e-4, 2e-3)
    wanted = np.minimum(throat + slope * np.abs(x), 2e-3)
    assert found.feasible
    assert (np.abs(np.diff(found.values)) <= slope * np.diff(x) + 1e-12).all()
    # two steps: the throat's station lies a little beside the point
    assert np.abs(found.values - wanted).max() < 2.5 * STEP
    assert "depth_slope" in {c.limit for c, _ in found.active}


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_every_seed_finds_the_same_optimum(seed):
    limit, land = 500.0, 1.6e-3
    widest = down(2.0 * np.pi * RADIUS / COUNT - land)
    depth = down(brentq(lambda d: wall_temperature(COUNT, widest, d, WALL) - limit, 3e-4, 4e-3))
    design = chamber(free("width", "depth"), ONE_DEPTH, "shop.least_land=1.6 mm")
    found = size(design, seed=seed, solve=Model(T_limit=limit))
    assert found.values == pytest.approx([widest, depth], abs=1e-12)


def test_a_width_that_varies_along_x_has_each_of_its_points_free():
    design = chamber(free("width"))
    varied = Profile((-0.05, 0.02), (1e-3, 1e-3))
    design = replace(design, channels=replace(design.channels, width=varied))
    found = size(design, solve=Model())
    assert [v.parameter.point for v in found.space.variables] == [0, 1]
    land = np.array([c.limit == "land" for c in found.trial.names])
    assert 0.0 <= found.trial.constraints[land].min() < STEP / 0.5e-3

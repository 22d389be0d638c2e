"""Sizing by a model in closed form: the shop's cutters, what cannot be kept, what is refused."""

from __future__ import annotations

import numpy as np
import pytest

from regen.case.read import load_case
from regen.errors import CaseError, RangeError
from regen.output.size import lines
from regen.studies.batch.designs import DesignBatch
from regen.studies.size.problem import Problem
from regen.studies.size.space import Variable, depth_places, space_of
from regen.studies.size.study import size
from tests.helpers.slots import WATER, Model, chamber, sizes

SAWS = (
    'shop.cutters=[{kind="saw",width="0.8 mm",diameter="63 mm",depth="1.5 mm"},'
    '{kind="end mill",width="1.2 mm"},{kind="saw",width="0.6 mm"}]'
)
NARROW = "shop.least_land=0.3 mm"


def free(*names: str) -> str:
    return "sizing.free=[" + ",".join(f'"{name}"' for name in names) + "]"


# the shop's cutters


def test_a_width_is_that_of_a_cutter_all_along():
    # the case's 1.0 mm is nobody's; wide slots lose the least pressure, the lands forbid 1.2 mm
    found = size(chamber(free("width", "depth"), SAWS, "shop.least_land=1.2 mm"), solve=Model())
    assert found.feasible
    width = found.design.channels.width
    assert width.value == (0.8e-3,)
    assert max(found.design.channels.depth.value) <= 1.5e-3  # as deep as that saw cuts


def test_the_widest_cutter_where_nothing_forbids_it():
    found = size(chamber(free("width"), SAWS), solve=Model())
    assert found.design.channels.width.value == (1.2e-3,)


def test_other_sizes_are_searched_again_with_the_cutter():
    # at 1.2 mm the wall temperature asks for another depth than at the width in between
    model = Model(T_limit=520.0)
    found = size(chamber(free("width", "depth"), SAWS, "sizing.depth_points=1"), solve=model)
    assert found.feasible
    left = {c.limit: value for c, value in found.active}
    assert 0.0 <= left["hot_wall_temperature"] < 0.005  # a step of 0.01 mm is 0.3 %


def test_one_cutter_is_no_choice():
    saw = 'shop.cutters=[{kind="saw",width="0.8 mm"}]'
    found = size(chamber(free("width", "depth"), saw), solve=Model())
    assert found.design.channels.width.value == (0.8e-3,)
    assert "width" not in {v.size for v in found.space.variables}
    assert any("width" in line and "0.8 mm" in line for line in lines(found, None))


def test_the_one_cutter_within_the_bounds_is_taken_though_another_is_nearer():
    saws = 'shop.cutters=[{kind="saw",width="1.0 mm"},{kind="saw",width="1.4 mm"}]'
    found = size(chamber(free("width", "depth"), saws, "sizing.width_from=1.3 mm"), solve=Model())
    assert found.design.channels.width.value == (1.4e-3,)


def test_a_cutter_too_shallow_for_the_case_is_left_out():
    saws = 'shop.cutters=[{kind="saw",width="1.2 mm",depth="0.8 mm"},{kind="saw",width="0.8 mm"}]'
    found = size(chamber(free("width"), saws), solve=Model())  # the case is 1.0 mm deep
    assert found.design.channels.width.value == (0.8e-3,)


def test_one_cutter_and_nothing_else_free_is_judged_as_it_is():
    saw = 'shop.cutters=[{kind="saw",width="0.8 mm"}]'
    found = size(chamber(free("width"), saw), solve=Model())
    assert found.feasible
    assert found.design.channels.width.value == (0.8e-3,)


def test_cutters_none_of_which_fits_are_named():
    with pytest.raises(RangeError, match=r"shop\.cutters: none is between 2 and 3 mm wide"):
        space_of(chamber(free("width"), SAWS, "sizing.width_from=2 mm", "sizing.width_to=3 mm"))


def test_a_saw_too_shallow_for_the_depths_asked_for_is_named():
    saw = 'shop.cutters=[{kind="saw",width="1.0 mm",depth="0.7 mm"}]'
    with pytest.raises(RangeError, match=r"cuts deeper than 0\.8 mm.*sizing\.depth_from"):
        space_of(chamber(free("width", "depth"), saw, "sizing.depth_from=0.8 mm"))


# whatever cannot be kept


def test_no_sizes_keep_a_limit_that_no_design_reaches():
    found = size(chamber(free("depth")), solve=Model(T_limit=320.0))
    assert not found.feasible
    assert found.trial.solved
    (worst, miss), *_ = found.active
    assert worst.limit == "hot_wall_temperature"
    # the shallowest slots allowed are the nearest, and still miss by far
    assert miss < -0.1
    assert {which for _, which, _ in found.at_bounds} == {"lower"}
    said = "\n".join(lines(found, None))
    assert "no feasible design" in said
    assert "nearest limit: hot wall temperature, nominal" in said
    assert f"missed by {-100.0 * miss:.2f} %" in said
    assert "limits.T_wall_hot" in said
    assert "on the lower bound, 0.333333 mm" in said


def test_where_nothing_is_solved_it_says_so():
    model = Model(unsolved=lambda count, *_: count > 0)
    found = size(chamber(free("depth")), solve=model)
    assert not found.feasible
    assert not found.trial.solved
    assert np.isnan(found.trial.objective)
    said = "\n".join(lines(found, None))
    assert "no design within the bounds was solved" in said
    assert "nan" not in said


def test_a_point_that_is_not_solved_is_never_an_answer():
    # the deepest slots would be the best by far, were they solved
    model = Model(unsolved=lambda count, width, depth, wall: depth > 1.4e-3)
    found = size(chamber(free("depth"), "sizing.depth_points=1"), solve=model)
    assert found.feasible
    assert found.values[0] == pytest.approx(1.4e-3, abs=2e-5)
    assert found.values[0] <= 1.4e-3


def test_an_island_of_solved_designs_is_kept_to():
    model = Model(unsolved=lambda count, width, depth, wall: (count < 40) | (count > 44))
    found = size(chamber(free("count", "depth")), solve=model)
    assert found.feasible
    assert 40 <= found.values[0] <= 44


def test_limits_are_held_at_the_worst_channel_if_the_case_says_so():
    one = ("sizing.depth_points=1", free("depth"))
    nominal = size(chamber(*one), solve=Model(T_limit=520.0, worst=30.0))
    worst = size(
        chamber(*one, "sizing.held_at=worst channel"), solve=Model(T_limit=520.0, worst=30.0)
    )
    as_if = size(chamber(*one), solve=Model(T_limit=490.0))
    assert worst.values == pytest.approx(as_if.values, abs=1.1e-5)
    assert worst.values[0] < nominal.values[0]
    assert {c.run for c, _ in worst.active} == {"worst_channel"}


def test_a_worst_channel_that_is_not_evaluated_keeps_no_limit():
    design = chamber(free("depth"), "sizing.held_at=worst channel")
    found = size(design, solve=Model(worst=float("nan")))
    assert not found.feasible
    assert ("hot_wall_temperature", "worst_channel") in found.unknown
    said = "\n".join(lines(found, None))
    assert "worst channel, not evaluated at these sizes: hot wall temperature" in said
    assert "missed by" not in said


# the same numbers


def test_the_same_seed_gives_the_same_sizes():
    design = chamber(free("count", "width", "depth"))
    one, two = (size(design, seed=7, solve=Model(T_limit=480.0)) for _ in range(2))
    assert one.values.tobytes() == two.values.tobytes()
    assert one.trial.constraints.tobytes() == two.trial.constraints.tobytes()


def test_it_asks_for_few_designs():
    # a screen of 1024, and some hundred points with their slopes
    model = Model(T_limit=480.0)
    size(chamber(free("count", "width", "depth")), solve=model)
    assert model.calls < 250
    assert model.rows < 4000


# sizes as they are written


def test_values_lie_on_the_steps_of_a_drawing_within_the_bounds():
    design = chamber(free("width", "depth"), "sizing.depth_to=1.238 mm")
    found = size(design, solve=Model())
    steps = found.values / 1e-5
    assert np.abs(steps - np.round(steps)).max() < 1e-6
    assert found.values[1:].max() == pytest.approx(1.23e-3, abs=1e-12)


def test_a_value_is_written_within_its_bounds():
    key = space_of(chamber(free("depth"), "sizing.depth_points=1")).variables[0].parameter
    variable = Variable(key, "depth", 0.333333e-3, 1.238e-3)
    assert variable.rounded(0.1e-3) == 0.34e-3
    assert variable.rounded(9e-3) == 1.23e-3
    assert variable.rounded(1.0049e-3) == 1.0e-3
    assert variable.rounded(1.0051e-3) == 1.01e-3


def test_shares_and_values_are_inverse_and_the_count_is_linear_in_the_pitch():
    space = space_of(chamber(free("count", "width")))
    shares = np.random.default_rng(1).random((20, 2))
    assert space.shares(space.values(shares)) == pytest.approx(shares, abs=1e-12)
    n = space.values(np.array([[0.0, 0.0], [0.5, 0.0], [1.0, 0.0]]))[:, 0]
    assert 1.0 / n[1] == pytest.approx((1.0 / n[0] + 1.0 / n[2]) / 2.0, rel=1e-12)


def test_the_lands_are_those_of_the_solved_designs():
    from regen.studies.batch.designs import solve_batch

    space = space_of(chamber(free("count", "width", "wall")))
    shares = space.shares(space.own()[None]) + np.array([[0.05, -0.03, 0.1]])
    rows = solve_batch(space.batch(shares), judged="nominal")
    problem = Problem(space, ("injector_pressure",), 1, Model())
    land = [n for n, one in enumerate(problem.at(shares).names) if one.limit == "land"]
    least = (problem.at(shares).constraints[0, land].min() + 1.0) * 0.5e-3
    assert least == pytest.approx(rows.summary["land_width_min_m"][0], rel=1e-8)


@pytest.mark.parametrize("count", [1, 2, 3, 6, 9])
def test_depth_has_a_point_at_the_throat(count):
    space = space_of(chamber(free("depth")))
    x = depth_places(space.prepared.contour, space.prepared.passage.x, count)
    assert x.size == count
    assert (np.diff(x) > 0).all()
    assert count == 2 or 0.0 in x.tolist()


def test_the_depth_of_the_case_is_the_same_on_the_points():
    design = chamber(free("depth"), 'channels.depth=[["-60 mm","1 mm"],["0 mm","1.6 mm"]]')
    space = space_of(design)
    x = np.array(space.base.channels.depth.x)
    assert space.own() == pytest.approx(np.interp(x, [-0.06, 0.0], [1e-3, 1.6e-3]), abs=1e-9)


def test_a_batch_is_read_as_the_model_reads_it():
    space = space_of(chamber(free("count", "depth")))
    batch = space.batch(np.full((2, len(space.variables)), 0.25))
    assert isinstance(batch, DesignBatch)
    assert sizes(batch, "channels.width", np.zeros(1)).tolist() == [[1e-3], [1e-3]]


# refusals


@pytest.mark.parametrize(
    ("overrides", "said"),
    [
        (("sizing.free=[]",), ("not a list of sizes",)),
        (('sizing.free=["widht"]',), ("is not a size that can be free", 'did you mean "width"')),
        (('sizing.free=["width","width"]',), ("a size is named twice",)),
        (('sizing.free=["count"]', "sizing.width_to=2 mm"), ("the width is not free",)),
        (("sizing.width_from=2 mm", "sizing.width_to=1 mm"), ("not above sizing.width_from",)),
        (("sizing.width_from=1 mm", "sizing.width_to=1 mm"), ("not above sizing.width_from",)),
        (("sizing.count_from=60", "sizing.count_to=40"), ("not above sizing.count_from",)),
        (
            (free("flow"), "sizing.flow_from=0.4 kg/s", "sizing.flow_to=0.9 fuel"),
            ("not of one kind", "both shares of the fuel"),
        ),
        (("sizing.minimise=cost",), ('"pressure drop"', '"mass"')),
        (("sizing.held_at=everywhere",), ('"worst channel"',)),
        (("sizing.depth_points=0",), ("sizing.depth_points",)),
        (("sizing.depth_slope=0",), ("sizing.depth_slope",)),
        (("sizing.margin=-0.1",), ("sizing.margin",)),
        (("sizing.width_from=0 mm",), ("sizing.width_from",)),
        (("shop.cutters=[]",), ("not a list of cutters",)),
        (
            (
                'shop.cutters=[{kind="saw"},{kind="laser",width="1 mm"},'
                '{kind="saw",widht="1 mm"},3]',
            ),
            (
                "shop.cutters[1].width",
                "missing",
                "shop.cutters[2].kind",
                "shop.cutters[3].widht",
                'did you mean "width"',
                "shop.cutters[4]",
                "not a table",
            ),
        ),
        (
            ('shop.cutters=[{kind="end mill",width="1 mm",diameter="2 mm"}]',),
            ("its width is its diameter",),
        ),
        (('shop.cutters=[{kind="saw",width=1.0}]',), ("shop.cutters[1].width", "unit")),
    ],
)
def test_a_bad_section_is_refused_all_at_once(overrides, said):
    with pytest.raises(CaseError) as refused:
        load_case(WATER, overrides)
    for words in said:
        assert words in str(refused.value)


@pytest.mark.parametrize(
    ("overrides", "said"),
    [
        (
            ("manifolds.inlet_bore=16 mm", "manifolds.inlet_taps=2"),
            "sizing takes one circuit.*ring manifolds",
        ),
        (
            ('channels.count=[["-80 mm",36],["-20 mm",30]]',),
            'number of slots changes along x.*take "count" out',
        ),
        (
            (free("depth"), "sizing.depth_from=3 mm"),
            r"sizing\.depth_to: 2 mm is not above 3 mm, the lower bound",
        ),
        (
            (free("depth"), "sizing.depth_from=1.001 mm", "sizing.depth_to=1.009 mm"),
            r"no multiple of 0\.01 mm lies between 1\.001 mm and 1\.009 mm",
        ),
        ((free("flow"), "sizing.flow_from=0.4 fuel"), "of the kind of coolant.mass_flow"),
    ],
)
def test_a_case_that_cannot_be_sized_is_refused_in_words(overrides, said):
    with pytest.raises(RangeError, match=said):
        space_of(chamber(*overrides))


def test_circuits_are_refused_in_words():
    from tests.helpers.places import CASES

    with pytest.raises(RangeError, match="one circuit.*the case has circuits"):
        space_of(load_case(CASES / "d-water-calorimeter.toml").design)


def test_a_small_island_far_from_the_case_is_found():
    # a fortieth of the space is solved, and the case's own sizes are not
    model = Model(unsolved=lambda count, width, depth, wall: (count < 70) | (depth > 0.6e-3))
    design = chamber(free("count", "depth"), "sizing.depth_points=1", "channels.width=0.5 mm")
    found = size(design, solve=model)
    assert found.feasible
    assert found.values[0] >= 70
    assert 0.0 <= 0.6e-3 - found.values[1] < 2.1e-5  # two steps from where solving ends
    assert np.isnan(found.own_objective)


def test_the_case_before_is_as_it_was_given():
    # not as it lies on the points of the depth: those are rounded to 0.1 mm
    design = chamber(free("depth"), 'channels.depth=[["-31.23 mm","1 mm"],["-31.1 mm","1.6 mm"]]')
    found = size(design, solve=Model())
    own = Model()(DesignBatch(design, (), np.zeros((1, 0)))).summary["coolant_pressure_drop_Pa"][0]
    assert found.own_objective == own

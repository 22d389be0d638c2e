"""The shop's cutters: which are chosen, what is refused, what would help, as machined, in words."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from regen.case.read import load_case
from regen.checks.review import review
from regen.design import Profile
from regen.errors import CaseError, GeometryError
from regen.geometry.circuits import lay_paths
from regen.geometry.contour import build_contour
from regen.output import shop_cutters
from regen.output.figures.cutters import cutters_figure
from regen.output.figures.style import render
from regen.shop.cutters.plan import plan_cutting
from regen.shop.cutters.remedies import remedies
from regen.shop.cutters.slots import stretches_of
from regen.studies.batch.rows import blank
from regen.studies.release.as_machined import Machined, at_cutter_widths, machine, machined_design
from regen.studies.release.to_shop import ToShop
from regen.studies.release.tolerances import tolerances
from tests.helpers.places import CASES, WATER

METHANE = CASES / "a-methane.toml"

SAW = '{kind="saw",width="0.8 mm",diameter="63 mm",depth="5 mm"}'
SMALL = '{kind="saw",width="0.8 mm",diameter="20 mm",depth="5 mm"}'
WIDE = '{kind="saw",width="1.0 mm",diameter="63 mm",depth="5 mm"}'
SHALLOW = '{kind="saw",width="0.8 mm",diameter="40 mm",depth="1.5 mm"}'
NAMELESS = '{kind="saw",width="0.8 mm"}'
MILL = '{kind="end mill",width="0.7 mm",depth="3 mm"}'
STUB = '{kind="end mill",width="0.7 mm",depth="1 mm"}'


def given(*cutters, case=METHANE, more=("channels.width=0.8 mm",)):
    """Return design, contour and paths of a chamber and a shop with these cutters."""
    design = load_case(case, (*more, f"shop.cutters=[{','.join(cutters)}]")).design
    contour = build_contour(design.contour)
    return design, contour, lay_paths(design, contour)


def cut_by(*cutters, **more):
    """Return the slots of the first circuit."""
    return plan_cutting(*given(*cutters, **more)).circuits[0]


# stretches


def test_stretches_of_a_width():
    width = Profile((-0.08, -0.01, 0.01, 0.04), (2e-3, 1e-3, 1e-3, 2e-3))
    found = stretches_of(width, (-0.1, 0.05))
    assert [(s.start, s.stop) for s in found] == [
        (-0.1, -0.08),
        (-0.08, -0.01),
        (-0.01, 0.01),
        (0.01, 0.04),
        (0.04, 0.05),
    ]
    assert [s.tapers for s in found] == [False, True, False, True, False]
    assert (found[1].narrowest, found[1].widest) == (1e-3, 2e-3)


def test_a_sudden_step_belongs_to_its_narrow_side():
    width = Profile((-0.05, -0.0495), (1.2e-3, 0.8e-3))
    found = stretches_of(width, (-0.1, 0.05))
    assert [(s.start, s.stop, s.widest) for s in found] == [
        (-0.1, -0.05, 1.2e-3),
        (-0.05, 0.05, 0.8e-3),
    ]


# which cutter


@pytest.mark.parametrize(
    ("cutters", "kind", "diameter"),
    [
        ((SAW, SMALL, MILL), "saw", 20e-3),  # the large disc leaves too much
        ((SAW, MILL), "end mill", None),
        ((SAW,), "saw", 63e-3),  # with a note, since it can
    ],
)
def test_the_one_that_follows_the_floor_is_taken(cutters, kind, diameter):
    (cut,) = cut_by(*cutters).tool_paths
    assert (cut.cutter.kind, cut.cutter.diameter) == (kind, diameter)


def test_a_mill_of_several_passes():
    found = cut_by(MILL)
    assert found.tool_paths[0].passes == 2
    assert found.made_width == pytest.approx(found.slot.width)
    taper = cut_by(MILL, more=())  # 0.8 to 0.7 to 0.8 mm
    assert not taper.problems
    assert taper.tool_paths[0].passes == 2


def test_every_reason_is_told():
    found = cut_by(WIDE, SHALLOW, NAMELESS, STUB)
    (problem,) = found.problems
    for text in (
        "channels: no cutter of shop.cutters makes the slots from x = -154 mm to 88.6 mm",
        "0.8 mm wide and up to 2 mm deep",
        "saw 1 mm, disc of 63 mm: too wide for 0.8 mm",
        "saw 0.8 mm, disc of 40 mm: it cuts at most 1.5 mm deep, and 2 mm is needed",
        "saw 0.8 mm: its diameter is not given",
        "end mill 0.7 mm: it cuts at most 1 mm deep, and 2.26",
        "a saw of 0.8 mm or an end mill of at most 0.8 mm would do".capitalize(),
    ):
        assert text in problem
    assert found.tool_paths == ()
    assert found.depth == pytest.approx(found.slot.depth)


def test_a_taper_asks_for_a_mill_or_one_width():
    (problem,) = cut_by(SAW, more=()).problems
    assert "from x = -150 mm to 60 mm, 0.7 mm to 0.8 mm wide" in problem
    assert "an end mill of at most 0.7 mm would do; or give the slots one width" in problem
    assert "nearest 0.8 mm" in problem
    fits = cut_by(SAW, more=("channels.width=[['-150 mm','0.8 mm'],['0 mm','0.9 mm']]",))
    assert "the width tapers, and a saw cuts one width" in fits.problems[0]


def test_a_disc_without_room_and_too_narrow_a_saw():
    tiny = '{kind="saw",width="0.6 mm",diameter="5 mm"}'
    more = ("channels.width=0.8 mm", "channels.depth=2.6 mm")
    (problem,) = cut_by(tiny, more=more).problems
    assert "too narrow for 0.8 mm: a saw cuts one width" in problem
    assert "its disc is no larger than twice the depth of 2.6 mm" in problem


def test_a_disc_that_leaves_no_slot():
    large = '{kind="saw",width="0.8 mm",diameter="200 mm"}'
    (problem,) = cut_by(large).problems
    assert "its disc leaves no slot at all at x = " in problem


def test_limits_of_the_shop_that_no_cutter_helps():
    more = (
        "channels.width=0.8 mm",
        "channels.depth=[['-30 mm','2 mm'],['-20 mm','4 mm']]",
        "shop.least_land=0.9 mm",
        "shop.greatest_aspect=4.5",
    )
    found = cut_by(SMALL, more=more).problems
    assert len(found) == 4
    assert "the land is 0.755" in found[0]
    assert "below shop.least_land 0.9 mm" in found[0]
    assert "4 mm deep and 0.8 mm wide: depth over width 5 is above" in found[1]
    assert "its slope is 0.2 near x = " in found[2]
    assert "4 mm of depth is 5 times its width, above shop.greatest_aspect 4.5" in found[3]


def test_two_widths_take_two_saws_and_the_narrow_one_runs_on():
    more = ("channels.width=[['-60 mm','1.0 mm'],['-59.5 mm','0.8 mm']]",)
    found = cut_by(SMALL, WIDE, more=more)
    assert not found.problems
    narrow, wide = sorted(found.tool_paths, key=lambda cut: cut.cutter.width)
    assert (narrow.start, wide.stop) == (found.slot.x[0], -0.06)
    (ramp,) = (ramp for ramp in wide.ramps if ramp.place == "narrower slot")
    at = (found.slot.x > -0.06 - 0.9 * ramp.length) & (found.slot.x < -0.06)
    assert found.depth[at] == pytest.approx(found.slot.depth[at], abs=1e-6)
    assert np.all(found.made_width[at] == 0.8e-3)
    assert np.all(found.made_width[found.slot.x < -0.06 - 1.1 * ramp.length] == 1e-3)
    assert any("a narrower one runs on" in note for note in found.notes)


def test_without_cutters_the_floor_is_the_wanted_one():
    design = load_case(METHANE).design
    contour = build_contour(design.contour)
    found = plan_cutting(design, contour, lay_paths(design, contour))
    assert found.circuits[0].extra == pytest.approx(0.0)
    assert "no shop.cutters given" in found.notes[0]
    assert found.problems == ()


def test_slots_that_end_in_a_plenum_are_told_of():
    found = cut_by(
        SMALL, more=("channels.width=0.8 mm", "channels.count=[['-150 mm',60],['-60 mm',50]]")
    )
    assert (
        "slots end at x = -60 mm: a cutter is assumed to run out into the groove" in found.notes[0]
    )


# what would do, by closed forms: arcs of one radius, 15 degrees on both sides

EVEN = (
    "channels.width=0.8 mm",
    "contour.convergent_half_angle=15 deg",
    "contour.throat_upstream_radius_ratio=1.0",
    "contour.throat_downstream_radius_ratio=1.0",
)
SHARE = 1.0 / np.cos(np.deg2rad(15.0)) - 1.0


def test_the_bridge_of_an_even_waist():
    """(R - rho)(1/cos 15 deg - 1), the floor's radius 19 mm less the wall."""
    left, x = cut_by(SAW, more=EVEN).bridge
    assert left == pytest.approx((31.5e-3 - 18.2e-3) * SHARE, abs=1e-6)
    assert x == pytest.approx(0.0, abs=0.1e-3)


def test_remedies_of_an_even_waist():
    made = given(SAW, more=EVEN)
    smaller, mill, arcs = remedies(plan_cutting(*made))
    more = 0.05e-3 / SHARE  # by which the disc may be larger than the floor's circle
    most = 2 * (18.2e-3 + more)
    assert most - 0.5e-3 < smaller.value <= most
    assert f"at most {smaller.value * 1e3:g} mm" in smaller.text
    assert mill.value == 0.8e-3
    ratio = (31.5e-3 - more + 0.8e-3) / 19e-3
    assert ratio <= arcs.value < ratio + 0.01
    assert "contour.throat_upstream_radius_ratio = 1.63 and" in arcs.text


def test_no_saw_does_where_the_arc_is_tighter_than_any():
    tight = ("channels.width=0.8 mm", "contour.throat_downstream_radius_ratio=0.1")
    made = given(SAW, more=tight)
    made = replace(made[0], shop=replace(made[0].shop, depth_tolerance=1e-5)), *made[1:]
    texts = [remedy.text for remedy in remedies(plan_cutting(*made))]
    assert texts[0].startswith("no saw does: a disc of 12 mm")
    assert any("larger arcs" in text for text in texts)


# as cut


@pytest.fixture(scope="module")
def again() -> Machined:
    """The water chamber with slots of one width and a saw that bridges its throat."""
    saw = 'shop.cutters=[{kind="saw",width="1.0 mm",diameter="50 mm",depth="4 mm"}]'
    more = ("channels.width=1.0 mm", "channels.depth=1.4 mm", saw, "models.stations=30")
    return machine(load_case(WATER, more).design)


def test_as_machined_is_what_the_cutters_leave(again):
    (circuit,) = again.plan.circuits
    wall, depth = again.design.liner.wall, again.design.channels.depth
    assert wall.at(circuit.slot.x) == pytest.approx(circuit.wall, abs=6e-6)
    assert depth.at(circuit.slot.x) == pytest.approx(circuit.depth, abs=6e-6)
    assert wall.at(circuit.slot.x) + depth.at(circuit.slot.x) == pytest.approx(2.4e-3, abs=1e-9)
    assert circuit.bridge[0] > 0.2e-3


def test_solved_as_machined(again):
    """Less depth for the same flow: more pressure drop; more copper: thicker wall where it is."""
    (circuit,) = again.plan.circuits
    left, x = circuit.bridge
    stations = again.as_machined.stations
    assert np.interp(x, stations["x_m"], stations["wall_m"]) == pytest.approx(
        1.0e-3 + left, abs=0.01e-3
    )
    assert again.change("coolant_pressure_drop_Pa") > 0.0
    speed = [
        np.interp(x, r.stations["x_m"], r.stations["v_coolant_m_s"])
        for r in (again.as_drawn, again.as_machined)
    ]
    # water is nearly incompressible: speed goes with one over depth
    assert speed[1] / speed[0] == pytest.approx(1.4e-3 / (1.4e-3 - left), rel=0.01)


def test_a_disc_that_follows_changes_nothing():
    saw = 'shop.cutters=[{kind="end mill",width="1.0 mm"}]'
    more = ("channels.width=1.0 mm", "shop.run_out=neither", saw)
    design = load_case(WATER, more).design
    contour = build_contour(design.contour)
    made = machined_design(design, plan_cutting(design, contour, lay_paths(design, contour)))
    assert made.channels.cooled_from is None
    assert max(made.liner.wall.value) < 1.02e-3


def test_ramps_end_the_slots():
    design, contour, paths = given(SMALL, more=("channels.width=0.8 mm", "shop.run_out=neither"))
    made = machined_design(design, plan_cutting(design, contour, paths))
    start = float(paths[0].x[0])
    expected = np.sqrt(1.6e-3 * (20e-3 - 1.6e-3))
    assert made.channels.cooled_from - start == pytest.approx(expected, abs=5e-6)
    assert made.channels.cooled_to < float(paths[0].x[-1])
    assert min(made.channels.depth.value) > 1.5e-3


def test_slots_that_cannot_be_made_are_not_solved():
    design, contour, paths = given(WIDE)
    with pytest.raises(GeometryError, match="no cutter of shop.cutters makes the slots"):
        machined_design(design, plan_cutting(design, contour, paths))
    found = machine(design)
    assert found.as_machined is None
    assert shop_cutters.verdict(found) == "the shop's cutters cannot make these slots"


# widths and tolerances, by a model in closed form

T0, DP0 = 700.0, 10e5
SLOPES = {"channels.width": (2e5, -4e9), "channels.depth": (-1e5, -3e9), "liner.wall": (3e5, 0.0)}
"""K and Pa per metre of the invented chamber."""


def straight(batch, **_):
    """Return the rows of a chamber whose numbers are straight in every size."""
    rows = blank(len(batch), "worst")
    T, dp = np.full(len(batch), T0), np.full(len(batch), DP0)
    for key, value in zip(batch.keys, batch.values.T, strict=True):
        T += SLOPES[key.path][0] * value
        dp += SLOPES[key.path][1] * value
    rows.summary["T_wall_hot_max_K"][:], rows.summary["coolant_pressure_drop_Pa"][:] = T, dp
    rows.summary["T_wall_hot_max_worst_K"][:] = 850.0
    rows.status[:] = "solved"
    return rows


def test_tolerances_by_hand(monkeypatch):
    """Width 0.03 mm, depth and wall 0.05 mm: 6, 5 and 15 K; 1.2, 1.5 and 0 bar."""
    monkeypatch.setattr("regen.studies.release.tolerances.solve_batch", straight)
    design = load_case(WATER).design
    found = tolerances(design)
    width, depth, wall = (size.effects["T_wall_hot_max_K"] for size in found.sizes)
    assert (width.plus, width.minus) == pytest.approx((6.0, -6.0))
    assert (depth.plus, wall.slope) == pytest.approx((-5.0, 3e5))
    T, dp = (found.spreads[n] for n in ("T_wall_hot_max_K", "coolant_pressure_drop_Pa"))
    assert (T.worst, T.corner) == (pytest.approx(T0 + 26.0), (1, -1, 1))
    assert T.root_sum_square == pytest.approx(np.sqrt(36.0 + 25.0 + 225.0))
    assert dp.worst == pytest.approx(DP0 + 2.7e5)
    assert dp.corner[:2] == (-1, -1)
    assert dp.root_sum_square == pytest.approx(np.hypot(1.2e5, 1.5e5))
    assert found.worst_channel == 850.0
    said = "\n".join([*shop_cutters.effects(found).lines(), *shop_cutters.together(found).lines()])
    assert "+6 / -6" in said
    assert "+1.5" in said  # K per 0.01 mm of depth is -1.0, of width +2.0
    assert "726 (+26)" in said


def test_a_corner_that_is_not_solved_is_named(monkeypatch):
    def some(batch, **_):
        rows = straight(batch)
        bad = np.all(batch.values < 0.0, axis=1)
        rows.status[bad], rows.reason[bad] = "choked", "choked at x = 0 mm"
        for values in rows.summary.values():
            values[bad] = np.nan
        return rows

    monkeypatch.setattr("regen.studies.release.tolerances.solve_batch", some)
    found = tolerances(load_case(WATER).design)
    assert found.unsolved == ("width smaller, depth smaller, wall smaller: choked at x = 0 mm",)
    assert np.isnan(found.spreads["T_wall_hot_max_K"].worst)
    assert "not solved" in "\n".join(shop_cutters.together(found).lines())


def test_widths_of_the_shop(monkeypatch):
    monkeypatch.setattr("regen.studies.release.as_machined.solve_batch", straight)
    saws = ",".join(f'{{kind="saw",width="{w} mm",diameter="20 mm"}}' for w in (0.3, 0.8, 1.2, 9))
    design = load_case(WATER, (f"shop.cutters=[{saws}]",)).design
    found = at_cutter_widths(design)
    assert [one.width for one in found] == pytest.approx([0.8e-3, 1.2e-3])
    assert found[0].T_wall_hot == pytest.approx(T0 + 160.0)
    assert not found[0].problems
    far = 'shop.cutters=[{kind="saw",width="9 mm"}]'
    # 0.5 to 4 mm are tried
    assert at_cutter_widths(load_case(WATER, (far,)).design) == ()


# words and figure


def test_words_of_a_bridged_throat(again):
    said = shop_cutters.lines(ToShop(again))
    left = again.plan.bridge[0] * 1e3
    assert f"leave up to {left:.3g} mm" in said[0].replace(f"{left:.4g}", f"{left:.3g}")
    text = "\n".join(said)
    for piece in (
        "what cuts the slots:",
        "solved as machined, nominal:",
        "coolant pressure drop, bar",
        "a smaller saw: 1 mm wide with a disc of at most",
        "larger arcs: with contour.throat_",
        "never cut below the wanted floor",
    ):
        assert piece in text, piece
    assert "nan" not in text


def test_the_figure_has_the_title_of_the_case(again):
    assert b"Linnet" in render(lambda: cutters_figure(again.plan, 0.05e-3, "Linnet <b>&"))


def test_a_saw_deeper_than_its_disc_is_refused():
    bad = 'shop.cutters=[{kind="saw",width="1 mm",diameter="20 mm",depth="10 mm"}]'
    with pytest.raises(CaseError) as refused:
        load_case(WATER, (bad, "shop.run_out=sideways"))
    assert "shop.cutters[1].depth" in str(refused.value)
    assert "below 10 mm, from the collar to the rim" in str(refused.value)
    assert '"neither"' in str(refused.value)


def test_circuits_with_sizes_of_their_own_are_off_too():
    # all slots 0.05 mm deeper, each circuit's own depth and that of [channels] written out
    case = CASES / "d-water-calorimeter.toml"
    design = load_case(case, ("models.stations=21",)).design
    deeper = replace(
        design,
        channels=replace(design.channels, depth=design.channels.depth.raised(5e-5)),
        circuits=tuple(
            replace(c, channels=replace(c.channels, depth=c.channels.depth.raised(5e-5)))
            for c in design.circuits
        ),
    )
    base, other = (review(one).summary["coolant_pressure_drop_Pa"] for one in (design, deeper))
    spread = tolerances(replace(design, shop=replace(design.shop, depth_tolerance=5e-5)))
    effect = next(size for size in spread.sizes if size.name == "depth").effects
    # the same marches, one by one and in a batch
    assert effect["coolant_pressure_drop_Pa"].plus == pytest.approx(other - base, rel=1e-6)
    assert other < 0.95 * base

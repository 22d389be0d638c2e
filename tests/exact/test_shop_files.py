"""Tables and drawings for the shop, read back: against geometry by hand, and pixels of a disc."""

from __future__ import annotations

import io

import ezdxf
import numpy as np
import pytest

from regen.shop.drawings.outlines import outermost
from tests.helpers.raster import cut_pixels
from tests.helpers.shop_sets import HOTTEST, SAW, files, table, to_shop

MM = 1e3
FILE = 0.6e-4
"""Half of the last digit of the tables and a little [mm]."""

DRAWING = 1e-6
"""Radii of drawings are exact but for the rounding of their text [mm]."""

CLAIM = 0.02
"""What a shop may hold the wall to [mm]."""

PIXEL = 0.005
POLYLINE = 1.2e-3
"""Chord error of a drawn polyline, 0.5 um, and as much of the cut floor's own points [mm]."""

# the demo chamber by hand [mm]: throat 38, contraction 6, arcs 1.5 and 0.382 of the throat's radius
RT, UP, DOWN, BLEND = 19.0, 28.5, 0.382 * 19.0, 19.0
ALPHA, BETA = np.deg2rad(30.0), np.deg2rad(15.0)
RC = RT * np.sqrt(6.0)
X3 = -UP * np.sin(ALPHA)
X2 = X3 - (RC - RT - (BLEND + UP) * (1 - np.cos(ALPHA))) / np.tan(ALPHA)
X1 = X2 - BLEND * np.sin(ALPHA)
X4 = DOWN * np.sin(BETA)
JACKET_AT_THROAT = RT + DOWN * (1 - 1 / np.cos(BETA)) + 9.0 / np.cos(BETA)
"""The jacket, 9 mm off the contour, grows together on the arc of 7.258 mm: what is seen is the
cone's, whose line is run back to x = 0, and 9 mm across it: 28.0615 [mm]."""


def slope_by_hand(x):
    """Return the angle of the demo chamber's contour [rad] at x [mm]."""
    return np.select(
        [x < X1, x < X2, x < X3, x < 0.0, x < X4],
        [
            np.zeros_like(x),
            -np.arcsin(np.clip((x - X1) / BLEND, -1, 1)),
            np.full_like(x, -ALPHA),
            np.arcsin(np.clip(x / UP, -1, 1)),
            np.arcsin(np.clip(x / DOWN, -1, 1)),
        ],
        BETA,
    )


def radius_by_hand(x):
    """Return the hot-gas radius [mm] at x [mm]."""
    blend = RC - BLEND + np.sqrt(np.maximum(BLEND**2 - (x - X1) ** 2, 0.0))
    cone = RT + UP * (1 - np.cos(ALPHA)) + (X3 - x) * np.tan(ALPHA)
    up = RT + UP - np.sqrt(np.maximum(UP**2 - x**2, 0.0))
    down = RT + DOWN - np.sqrt(np.maximum(DOWN**2 - x**2, 0.0))
    out = RT + DOWN * (1 - np.cos(BETA)) + (x - X4) * np.tan(BETA)
    return np.select(
        [x < X1, x < X2, x < X3, x < 0.0, x < X4], [np.full_like(x, RC), blend, cone, up, down], out
    )


@pytest.fixture(scope="module")
def chamber():
    """The demo chamber without cutters: the floor is that of the design."""
    return to_shop()


@pytest.fixture(scope="module")
def plain(chamber):
    return files(chamber)


@pytest.fixture(scope="module")
def sawn():
    """The same with one width, cut by a saw of 30 mm, which bridges the throat a little."""
    return files(to_shop(*SAW))


@pytest.fixture(scope="module")
def rows(plain):
    return table(plain["cutting_table.csv"])


def drawing(text):
    return ezdxf.read(io.StringIO(text))


def points(text, layer):
    """Return the vertices (n, 2) of all polylines of a layer [mm]."""
    found = drawing(text).modelspace().query(f'LWPOLYLINE[layer=="{layer}"]')
    return np.concatenate([np.array(line.get_points("xy")) for line in found])


def test_the_floor_stands_on_the_contours_normals(rows):
    x, wall = rows["x hot wall [mm]"], rows["wall [mm]"]
    slope = slope_by_hand(x)
    near = 2 * FILE  # x of the hot wall is rounded too, and moves r and the arcs' normals with it
    np.testing.assert_allclose(rows["r hot wall [mm]"], radius_by_hand(x), atol=near)
    np.testing.assert_allclose(wall, 0.8, atol=FILE)
    np.testing.assert_allclose(rows["x [mm]"], x - 0.8 * np.sin(slope), atol=near)
    np.testing.assert_allclose(
        rows["r floor [mm]"], radius_by_hand(x) + 0.8 * np.cos(slope), atol=near
    )
    np.testing.assert_allclose(
        np.deg2rad(rows["slope of floor [deg]"]), slope, atol=2e-3
    )  # at joints the floor's slope is the mean over 0.02 mm beside


def test_depths_are_counted_from_the_blank(rows):
    x = rows["x hot wall [mm]"]
    depth = np.interp(x, (-150.0, 0.0), (1.6, 2.0))
    np.testing.assert_allclose(rows["depth normal [mm]"], depth, atol=FILE)
    radial = rows["depth radial [mm]"]
    np.testing.assert_allclose(radial, rows["r blank [mm]"] - rows["r floor [mm]"], atol=2 * FILE)
    # on the nozzle's cone and at full depth both are straight: radial = normal/cos
    cone = (x > 20.0) & np.isfinite(radial)
    np.testing.assert_allclose(radial[cone], 2.0 / np.cos(BETA), atol=2 * FILE)
    assert np.isnan(radial[-1])  # over the last of the floor the drawn blank has ended


def test_lands_and_floor_make_up_the_round(rows):
    around = 2 * np.pi * rows["r floor [mm]"]
    whole = 80 * (rows["land at floor [mm]"] + rows["width [mm]"])
    np.testing.assert_allclose(whole, around, atol=80 * 2 * FILE)
    assert np.all(rows["land at top [mm]"] > rows["land at floor [mm]"])


def test_both_datums_and_the_steps_of_a_mill(rows):
    face = X1 - rows["x [mm]"][0]
    assert rows["x from injector face [mm]"][0] == 0.0
    apart = rows["x [mm]"] - rows["x from injector face [mm]"]
    np.testing.assert_allclose(apart, apart[0], atol=2 * FILE)
    assert face > 0
    steps = np.diff(rows["x [mm]"])
    assert steps.max() <= 1.0 + 0.04  # a whole step is left out beside a fixed row
    assert steps.min() > 0.02
    said = ", ".join(rows["remark"])
    for word in ("slots begin", "slots end", "throat", "hottest wall", "joint", "profile"):
        assert word in said
    assert rows["x hot wall [mm]"][[("hottest" in r) for r in rows["remark"]]] == HOTTEST * MM


def test_index_angles_close_the_circle(rows, plain):
    turns = rows["slots"] * rows["index angle [deg]"]
    np.testing.assert_allclose(turns, 360.0, atol=1e-5)
    assert "4\u00b0 30\u2032 00.00\u2033" in plain["cutting_table.html"]
    assert "355.50000" in plain["cutting_table.html"]  # slot 80


def test_the_wall_that_the_listed_disc_leaves(sawn):
    """The raster is told the rows of the path, and the contour by hand; nothing else."""
    path, floor = table(sawn["cutter_path.csv"]), table(sawn["cutting_table.csv"])
    x, r = path["x [mm]"], path["r [mm]"]
    assert set(path["disc diameter [mm]"]) == {30.0}
    np.testing.assert_allclose(r - path["r lowest [mm]"], 15.0, atol=2 * FILE)
    claimed = floor["wall [mm]"]
    assert claimed.max() > 0.87  # the saw does bridge
    for window in ((-16.0, 9.0, 19.3, 27.0), (-74.0, -56.0, 38.0, 48.5), (60.0, 84.0, 34.0, 43.0)):
        raster = cut_pixels(x / MM, r / MM, 15e-3, tuple(w / MM for w in window), PIXEL / MM)
        at = floor["x hot wall [mm]"]
        here = (at > window[0] + 2) & (at < window[1] - 2)
        s = at[here]
        left = raster.wall(s / MM, radius_by_hand(s) / MM, slope_by_hand(s), 2.5e-3) * MM
        off = np.abs(left - claimed[here])
        assert here.sum() > 10
        assert off.max() < CLAIM
        # pixels and straight lines from row to row take most of what is seen
        assert off.max() < 2 * PIXEL + 0.004


def test_the_drawn_floor_is_the_tables(sawn, plain):
    for made in (sawn, plain):
        floor = points(made["slot_profile.dxf"], "SLOT_FLOOR")
        rows = table(made["cutting_table.csv"])
        drawn = np.interp(rows["x [mm]"], floor[:, 0], floor[:, 1])
        assert np.abs(drawn - rows["r floor [mm]"]).max() < POLYLINE
        # and straight lines from row to row leave the drawn floor nowhere by more than 4 um
        straight = np.interp(floor[:, 0], rows["x [mm]"], rows["r floor [mm]"])
        assert np.abs(straight - floor[:, 1]).max() < 4e-3 + POLYLINE


def test_drawn_curves_stand_off_the_contour_by_hand(plain):
    text = plain["lathe_profile.dxf"]
    for layer, over in (
        ("LINER_BLANK_OUTSIDE", 0.8),
        ("COPPER_OUTSIDE", 1.0),
        ("JACKET_FINISHED_OUTSIDE", 7.0),
    ):
        found = points(text, layer)
        at = np.linspace(20.0, 80.0, 7)  # the cone: depth 2 mm, slope 15 degrees
        s = at + (over + 2.0) * np.sin(BETA)
        wanted = radius_by_hand(s) + (over + 2.0) * np.cos(BETA)
        assert np.abs(np.interp(at, found[:, 0], found[:, 1]) - wanted).max() < DRAWING


def test_a_jacket_thicker_than_the_throats_arc_is_drawn_grown_together(plain):
    x, r = points(plain["lathe_profile.dxf"], "JACKET_FINISHED_OUTSIDE").T
    assert np.all(np.diff(x) > 0)
    at = np.array([0.0, 0.5, 1.5])
    wanted = JACKET_AT_THROAT + at * np.tan(BETA)
    np.testing.assert_allclose(np.interp(at, x, r), wanted, atol=DRAWING)


def test_the_contour_is_drawn_in_lines_and_arcs(plain):
    (line,) = (
        drawing(plain["lathe_profile.dxf"])
        .modelspace()
        .query('LWPOLYLINE[layer=="HOT_GAS_CONTOUR"]')
    )
    parts = list(line.virtual_entities())
    arcs = [part for part in parts if part.dxftype() == "ARC"]
    assert len(parts) == 6
    found = sorted(arc.dxf.radius for arc in arcs)
    np.testing.assert_allclose(found, sorted((BLEND, UP, DOWN)), atol=DRAWING)
    for arc, (x, r) in zip(arcs, ((X1, RC - BLEND), (0, RT + UP), (0, RT + DOWN)), strict=True):
        np.testing.assert_allclose((arc.dxf.center.x, arc.dxf.center.y), (x, r), atol=DRAWING)
    ends = np.array(line.get_points("xy"))[[0, -1]]
    np.testing.assert_allclose(ends[:, 1], (RC, RT * np.sqrt(5.0)), atol=DRAWING)


def test_drawings_are_valid_in_millimetres(plain, sawn):
    for made in (plain, sawn):
        for name in ("lathe_profile.dxf", "slot_profile.dxf", "slot_section.dxf"):
            read = drawing(made[name])
            audit = read.audit()
            assert not audit.errors
            assert not audit.fixes
            assert read.header["$INSUNITS"] == 4
            used = {entity.dxf.layer for entity in read.modelspace()}
            assert used <= {layer.dxf.name for layer in read.layers}
            said = " ".join(text.dxf.text for text in read.modelspace().query("TEXT"))
            assert "Linnet bench chamber, 5 kN" in said
            assert "Units mm" in said
    lathe = drawing(plain["lathe_profile.dxf"]).modelspace()
    # what a lathe may not cut is not in its drawing
    assert not lathe.query('*[layer=="SLOT_FLOOR"]')
    measured = sorted(dimension.get_measurement() for dimension in lathe.query("DIMENSION"))
    x0 = points(plain["lathe_profile.dxf"], "HOT_GAS_CONTOUR")[0, 0]
    np.testing.assert_allclose(measured[:3], (RT, RC, -x0), atol=DRAWING)


def test_sections_have_every_slot_at_its_angle(plain):
    space = drawing(plain["slot_section.dxf"]).modelspace()
    slots, circles = space.query('LWPOLYLINE[layer=="SLOTS"]'), space.query("CIRCLE")
    assert len(slots) == 3 * 80
    assert all(slot.closed for slot in slots)
    centres = sorted({round(circle.dxf.center[0], 6) for circle in circles})
    # throat: hot wall, blank, copper by hand
    throat = sorted(c.dxf.radius for c in circles if round(c.dxf.center[0], 6) == centres[0])
    np.testing.assert_allclose(throat, (19.0, 21.8, 22.0, JACKET_AT_THROAT), atol=DRAWING)
    here = [np.array(slot.get_points("xy")) for slot in slots][:80]
    for k, corners in enumerate(here):
        floor = corners[[0, 3]] - (centres[0], 0.0)
        top = corners[[1, 2]] - (centres[0], 0.0)
        np.testing.assert_allclose(np.hypot(*(floor[1] - floor[0])), 0.7, atol=DRAWING)
        np.testing.assert_allclose(np.hypot(*floor.mean(axis=0)), 19.8, atol=DRAWING)
        np.testing.assert_allclose(np.hypot(*top.T), 21.8, atol=DRAWING)
        x, y = floor.mean(axis=0)
        turned = np.rad2deg(np.arctan2(x, y)) % 360.0  # clockwise from the top
        assert abs((turned - 4.5 * k + 180.0) % 360.0 - 180.0) < 1e-6
    # the top of a slot is an arc of the blank's circle
    _, arc, _, _ = (slot_bulge := [b for *_, b in slots[0].get_points("xyb")])
    assert slot_bulge.count(0.0) == 3
    np.testing.assert_allclose(0.7 * (1 + arc**2) / (4 * arc), 21.8, atol=1e-4)


def test_the_same_design_makes_the_same_files(chamber, plain):
    assert files(chamber) == plain


def test_a_layer_in_a_narrow_groove_grows_together():
    """Off a round groove of radius 3, 5 outside: both flanks meet in a corner by hand."""
    angle = np.linspace(-0.6, 0.6, 2001)
    # from the groove's ends on, straight flanks at 0.6 rad
    flank = np.linspace(0.0, 20.0, 2001)[1:]
    x = np.concatenate(
        [
            -3 * np.sin(0.6) - flank[::-1] * np.cos(0.6),
            3 * np.sin(angle),
            3 * np.sin(0.6) + flank * np.cos(0.6),
        ]
    )
    r = np.concatenate(
        [
            3 - 3 * np.cos(0.6) + flank[::-1] * np.sin(0.6),
            3 - 3 * np.cos(angle),
            3 - 3 * np.cos(0.6) + flank * np.sin(0.6),
        ]
    )
    slope = np.concatenate([np.full(2000, -0.6), angle, np.full(2000, 0.6)])
    outside = outermost(x - 5 * np.sin(slope), r + 5 * np.cos(slope))
    assert np.all(np.diff(outside[0]) > 0)
    # flank lines moved out by 5 cross on the middle plane at 3 + (5 - 3)/cos(0.6)
    assert abs(np.interp(0.0, *outside) - (3 + 2 / np.cos(0.6))) < 0.01 * np.tan(0.6)
    for x in (-1.0, 1.0):  # and each flank is the outside on its own side
        flank = 3 + 2 / np.cos(0.6) + np.tan(0.6)
        assert np.interp(x, *outside) == pytest.approx(flank, abs=1e-9)


def test_a_saw_stays_in_the_slots_whose_number_it_cuts():
    """On the barrel the disc's lowest point stands over the end of the slots of each number."""
    saw = 'shop.cutters=[{kind="saw",width="0.8 mm",diameter="30 mm",depth="5 mm"}]'
    changed = 'channels.count=[["-160 mm", 60], ["-100 mm", 80]]'
    made = to_shop("channels.width=0.8 mm", changed, saw).drawn
    first, second = made.tools
    assert (first.stretch.count, second.stretch.count) == (60, 80)
    assert abs(first.x[-1] + 0.100) < 1e-9
    assert abs(second.x[0] + 0.100) < 1e-9
    assert {tool for tool in made.sheets[0].tools} == {first.label}
    assert {tool for tool in made.sheets[1].tools} == {second.label}
    assert made.sheets[0].rows.floor_x[-1] == pytest.approx(-0.100, abs=1e-9)

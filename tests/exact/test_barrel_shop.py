"""Files of the shop for round slots on a plain barrel, whole rows of them worked by hand.

Lengths in mm. Sixty slots 1.25 wide and 4 deep from x = -300 to -200; radii: hot wall 40, floor 41,
blank 45, copper 45.5, jacket 48.5. The injector face is 300 before the blend to the cone: the
throat's arc ends at -15, the cone at -15 - (20 - 50 (1 - cos 30))/tan 30 = -38.0385, the blend at
-48.0385; so it stands at -348.0385. A disc of 40 has its centre at 41 + 20, and leaves
sqrt(20^2 - 16^2) = 12 beyond each end.
"""

from __future__ import annotations

import io
import json
from dataclasses import replace

import ezdxf
import numpy as np
import pytest

from regen.case.read import load_case
from regen.output import shop
from regen.studies.release.to_shop import to_shop
from tests.helpers import barrel
from tests.helpers.html_rows import row, rows
from tests.helpers.shop_sets import table

FACE = -348.0384757729

# radii of drawings are exact but for the rounding of their text
DRAWING = 1e-6

# half the last digit of a table
FILE = 0.51e-4

PLACES = ("-297.000", "-258.500", "-220.000", "-203.000")


@pytest.fixture(scope="module")
def way():
    return barrel.to_shop()


@pytest.fixture(scope="module")
def made():
    return barrel.shop_texts()


@pytest.fixture(scope="module")
def traveller(made):
    return {cells[1].split("\n")[0]: cells[1] for cells in rows(made["traveller.html"])[1:]}


def test_one_row_of_the_cutting_table(made):
    found = table(made["cutting_table.csv"])
    at = int(np.flatnonzero(found["remark"] == "hottest wall")[0])
    words = {"circuit": "all slots", "cutter": "C1", "remark": "hottest wall"}
    numbers = {
        "stretch": 1,
        "slots": 60,
        "index angle [deg]": 6.0,
        "first slot [deg]": 0.0,
        "x [mm]": -220.0,
        "x from injector face [mm]": -220.0 - FACE,
        "r floor [mm]": 41.0,
        "slope of floor [deg]": 0.0,
        "width [mm]": 1.25,
        "depth normal [mm]": 4.0,
        "depth radial [mm]": 4.0,
        "r blank [mm]": 45.0,
        "wall [mm]": 1.0,
        "land at floor [mm]": 3.04351,  # 2 pi 41/60 - 1.25
        "land at top [mm]": 3.46239,  # 2 pi 45/60 - 1.25
        "x hot wall [mm]": -220.0,
        "r hot wall [mm]": 40.0,
    }
    assert set(found) == set(words) | set(numbers)
    for name, said in words.items():
        assert found[name][at] == said
    for name, value in numbers.items():
        assert abs(found[name][at] - value) < FILE, name


def test_one_row_of_the_cutting_page(made):
    page = made["cutting_table.html"]
    (found,) = [cells for cells in rows(page) if cells[-1:] == ["hottest wall"]]
    assert found == (
        ["-220.000", "128.038", "41.000", "0.00", "1.250", "4.000", "4.000", "45.000", "1.000"]
        + ["3.044", "3.462", "C1", "hottest wall"]
    )
    stretch = ["1", "all slots", "60", "6.000000", "6\u00b0 00\u2032 00.00\u2033", "0"]
    assert [*stretch, "-300.000", "-200.000"] in rows(page)
    assert ["2", "6.00000", "6\u00b0 00\u2032 00.00\u2033"] in rows(page)
    assert ["60", "354.00000", "354\u00b0 00\u2032 00.00\u2033"] in rows(page)
    assert "width \u00b1 0.02, depth \u00b1 0.04, wall \u00b1 0.06 mm" in page
    assert "injector face, which stands 348.0385 before the throat" in page
    assert (
        "slot 1.250 wide at the floor, 4.000 deep; wall 1.000; land 3.044 at the floor; radii: hot "
        "wall 40.000, floor 41.000, blank 45.000; copper to 45.500, jacket to 48.500 finished"
        in page
    )


def test_the_way_of_the_cutter(made):
    head, first, *_, last = made["cutter_path.csv"].splitlines()
    assert head == (
        "cutter,stretch,circuit,slots,kind,cutter width [mm],disc diameter [mm],"
        "passes side by side,x [mm],x from injector face [mm],r [mm],r lowest [mm]"
    )
    assert first == "C1,1,all slots,60,saw,1.25,40,1,-300.0000,48.0385,61.0000,41.0000"
    assert last == "C1,1,all slots,60,saw,1.25,40,1,-200.0000,148.0385,61.0000,41.0000"
    assert ["-300.000", "48.038", "61.000", "41.000"] in rows(made["cutting_table.html"])


def test_the_cutter_in_words(made):
    assert (
        "C1: saw, 1.25 mm wide, for the 60 slots of all slots (stretch 1), disc 40 mm in diameter; "
        "a reground disc has another path; from x = -300.000 to -200.000; at its injector end (x = "
        "-300.0) it needs 12.0 mm free beyond, and marks the blank there; at its nozzle end (x = "
        "-200.0) it needs 12.0 mm free beyond, and marks the blank there."
    ) in made["cutting_table.html"]


def test_limits_of_the_gauges(made):
    sizes = ["1.250", "1.230", "1.270", "4.000", "3.960", "4.040", "1.000", "0.940", "1.060"]
    for name, x, face in (
        ("A: injector end", "-297.000", "51.038"),
        ("B: between", "-258.500", "89.538"),  # half way to the hottest
        ("C: hottest wall", "-220.000", "128.038"),
        ("D: nozzle end", "-203.000", "145.038"),
    ):
        found = row(made["inspection.html"], name)
        assert found == [name, x, x, face, "41.000", *sizes]


def test_slots_to_be_measured_have_the_case_s_own_x(made):
    head, *slots = made["measured_slots.csv"].splitlines()
    assert head == "slot, x [mm], width [mm], depth [mm], wall [mm]"
    assert len(slots) == 60 * 4
    assert slots[4:8] == [f"2, {x}, , ," for x in PLACES]


def test_proof_pressures_are_not_swapped(made, traveller):
    for name, pressure in (("Channels, bore empty", 171), ("Bore alone, channels empty", 45)):
        assert row(made["inspection.html"], name)[1] == f"{pressure} bar gauge"
        assert f"{name}: {pressure} bar gauge." in traveller["Proof, by inspection.html"]


def test_the_traveller_cuts_what_is_drawn(traveller):
    assert traveller["Slot, by the cutting table and the cutter path"].split("\n")[1] == (
        "all slots: 60 slots, index 6.000000 deg, x = -300.000 to -200.000, width 1.250 mm, depth "
        "4.000 mm (normal), wall left 1.000 mm."
    )
    assert "Count: 60." in traveller["Count and measure every slot"]
    (hold,) = [said for said in traveller if said.startswith("HOLD Slot 1")]
    assert "width +/- 0.02, depth +/- 0.04, wall +/- 0.06 mm" in hold
    assert "+/- 0.06 mm" in next(said for said in traveller if said.startswith("HOLD Wall by"))


def test_the_traveller_fills_the_slots(traveller):
    """60 slots of 1.25 x 4 x 100 mm hold 30 cm3; the nickel's bath, 50 degC, is the warmest."""
    said = traveller["Weigh, fill with wax, weigh"]
    assert "Slots hold 30.0 cm3 in all." in said
    assert "above the warmest bath (50 degC)" in said


def test_the_traveller_plates_what_is_planned(made, traveller):
    """The numbers of test_plating_sheet, to the micrometre."""
    assert (
        "Plating: 245 h with current, 4 turnings; in the calendar 51 to 204 days"
        in made["traveller.html"]
    )
    grown = {
        "Copper, cycle 1 of 1": "0.600 mm on the mean, at the thinnest place from 0.000 to 0.600 "
        "mm, at the thickest to 0.600 mm: 5.9 A, rising to 6.0 A, 30.0 h with current.",
        "Nickel, cycle 1 of 3": "1.711 mm on the mean, at the thinnest place from 0.000 to 1.467 "
        "mm, at the thickest to 1.956 mm: 7.7 A, rising to 7.9 A, 71.8 h with current.",
        "Nickel, cycle 3 of 3": "1.711 mm on the mean, at the thinnest place from 2.533 to 4.000 "
        "mm, at the thickest to 4.489 mm: 8.0 A, rising to 8.3 A, 71.8 h with current.",
    }
    for name, said in grown.items():
        assert traveller[name].split("\n")[-1] == said
    assert "Clean, activate" not in traveller["Copper, cycle 1 of 1"]
    assert "Clean, activate" in traveller["Nickel, cycle 1 of 3"]
    assert traveller["Copper, cycle 1 of 1: turn"].endswith("lathe_profile.dxf: 0.5 mm.")
    assert traveller["Nickel, cycle 1 of 3: turn"].endswith("1.267 mm left there.")
    assert traveller["Nickel, cycle 2 of 3: turn"].endswith("2.533 mm left there.")
    assert traveller["Nickel, cycle 3 of 3: turn"].endswith(": 3 mm on the copper.")


def test_the_traveller_holds(traveller):
    holds = [said for said in traveller if said.startswith("HOLD")]
    assert any(
        "Copper at least 0.450 mm everywhere (0.500 mm less 0.05 mm" in said for said in holds
    )
    assert any(
        "Nickel at least 2.950 mm everywhere (3.000 mm less 0.05 mm" in said for said in holds
    )
    assert any("pulled: at least 70 MPa in tension" in said for said in holds)


def vertices(text, layer):
    """Return x and r of all vertices of a layer, and its circles' centres and radii [mm]."""
    space = ezdxf.read(io.StringIO(text)).modelspace()
    found = space.query(f'LWPOLYLINE[layer=="{layer}"]')
    return np.concatenate([np.array(one.get_points("xy")) for one in found])


def test_the_lathe_turns_to_the_right_radii(made):
    """As plated: 45 + 0.5 + 4.4889 at both ends, 45 + 0.5 + 4 at the thinnest place between."""
    drawn = made["lathe_profile.dxf"]
    for layer, radius in (
        ("LINER_BLANK_OUTSIDE", 45.0),
        ("COPPER_OUTSIDE", 45.5),
        ("JACKET_FINISHED_OUTSIDE", 48.5),
    ):
        found = vertices(drawn, layer)
        np.testing.assert_allclose(found[:, 1], radius, atol=DRAWING)
        np.testing.assert_allclose(found[[0, -1], 0], (-300.0, -200.0), atol=DRAWING)
    found = vertices(drawn, "JACKET_AS_PLATED_OUTSIDE")
    at = np.interp((-300.0, -250.0, -200.0), *found.T)
    np.testing.assert_allclose(at, (49.988889, 49.5, 49.988889), atol=2e-3)


def test_the_way_to_the_shop_hands_on_both_layers(monkeypatch):
    """As the command makes it, but for the solve: copper and nickel are drawn as plated."""
    monkeypatch.setattr("regen.studies.release.to_shop.review", lambda design, **_: barrel.solved())
    monkeypatch.setattr("regen.studies.release.to_shop.tolerances", lambda design: None)
    design = load_case(barrel.CASE, ()).design
    found = to_shop(replace(design, shop=replace(design.shop, cutters=())))
    curves = dict(found.drawn.turned)
    for name, radius in (
        ("COPPER_OUTSIDE", 45.5),
        ("JACKET_FINISHED_OUTSIDE", 48.5),
        ("JACKET_AS_PLATED_OUTSIDE", 49.5),
    ):
        drawn = 1e3 * np.interp(-0.25, curves[name].x, curves[name].r)
        assert drawn == pytest.approx(radius, abs=2e-3), name
    assert found.released


def test_the_mill_is_shown_floor_blank_way_and_discs(made):
    drawn = made["slot_profile.dxf"]
    for layer, radius in (
        ("SLOT_FLOOR", 41.0),
        ("LINER_BLANK_OUTSIDE", 45.0),
        ("CUTTER_PATH_C1", 61.0),
    ):
        found = vertices(drawn, layer)
        np.testing.assert_allclose(found[:, 1], radius, atol=DRAWING)
        np.testing.assert_allclose(found[[0, -1], 0], (-300.0, -200.0), atol=DRAWING)
    discs = ezdxf.read(io.StringIO(drawn)).modelspace().query("CIRCLE")
    found = sorted((disc.dxf.center.x, disc.dxf.center.y, disc.dxf.radius) for disc in discs)
    np.testing.assert_allclose(found, [(-300.0, 61.0, 20.0), (-200.0, 61.0, 20.0)], atol=DRAWING)


def test_the_section_is_that_of_the_hottest_wall(made):
    space = ezdxf.read(io.StringIO(made["slot_section.dxf"])).modelspace()
    found = sorted((circle.dxf.radius, circle.dxf.layer) for circle in space.query("CIRCLE"))
    radii, layers = zip(*found, strict=True)
    np.testing.assert_allclose(radii, (40.0, 45.0, 45.5, 48.5), atol=DRAWING)
    assert layers == ("LINER", "LINER", "COPPER", "JACKET")
    said = [text.dxf.text for text in space.query("TEXT")]
    for text in (
        "HOTTEST WALL, x = -220.0000 from throat",
        "60 slots, index 6.000000 deg, slot 1 at top, clockwise",
        "width 1.250, floor R 41.0000, top R 45.0000",
        "hot wall R 40.0000",
    ):
        assert text in said


def test_the_index_of_the_shops_files(way, tmp_path):
    shop.write(way, tmp_path)
    found = json.loads((tmp_path / "shop.json").read_text())
    (stretch,) = found["stretches"]
    assert stretch == {
        "stretch": 1,
        "circuit": "all slots",
        "slots": 60,
        "index_angle_deg": 6.0,
        "rows": 101,
        "wall_min_m": pytest.approx(1e-3),
        "wall_max_m": pytest.approx(1e-3),
        "slot_volume_m3": pytest.approx(30e-6),
    }
    assert (found["verdict"], found["released"]) == ("pass", True)


def test_what_the_command_prints(way):
    found = shop.lines(way.drawn, way.plated)
    assert "all slots: 60 slots each 6 deg, 101 rows, wall left 1.000 to 1.000 mm" in found
    assert "plating: 245 h with current" in found

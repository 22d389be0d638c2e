"""What ``regen shop`` writes, and when it writes nothing."""

from __future__ import annotations

import hashlib
import json


def test_a_chamber_goes_to_the_shop(regen, water, tmp_path):
    done = regen("shop", water, "-o", tmp_path / "made")
    assert done.exit_code == 0, done.stderr
    index = json.loads((tmp_path / "made" / "shop.json").read_text())
    wanted = {"cutting_table.csv", "cutting_table.html", "lathe_profile.dxf"}
    wanted |= {"slot_profile.dxf", "slot_section.dxf", "traveller.html", "inspection.html"}
    wanted |= {"measured_slots.csv", "plating_sheet.html", "cutters.html"}
    assert set(index["files"]) == wanted
    for name, digest in index["files"].items():
        content = (tmp_path / "made" / name).read_bytes()
        assert hashlib.sha256(content).hexdigest() == digest
    assert index["released"]
    assert index["stretches"][0]["slots"] * index["stretches"][0]["index_angle_deg"] == 360.0
    tolerances = (tmp_path / "made" / "cutters.html").read_text()
    for said in (done.stdout, tolerances):
        for word in ("all at the bad end", "root sum square", "bar per 0.01 mm"):
            assert word in said
    page = (tmp_path / "made" / "traveller.html").read_text()
    for word in ("Deburr", "Count and measure every slot", "wax", "Conductive skin", "coupon"):
        assert word in page
    # the plan's own cycles, in words
    assert "Nickel, cycle 1 of" in page
    assert "h with current" in page
    assert page.count("<strong>HOLD</strong>") > 12


def test_the_design_at_the_widths_of_the_shops_cutters(regen, water, tmp_path):
    owned = (
        'shop.cutters=[{kind="end mill",width="1 mm",depth="3 mm"},'
        '{kind="end mill",width="1.2 mm",depth="3 mm"}]'
    )
    done = regen("shop", water, "-o", tmp_path / "made", "--set", owned)
    assert done.exit_code == 0, done.stderr
    table = done.stdout.partition("of the shop's cutters (floor as drawn):")[2]
    lines = [line.split() for line in table.splitlines()[3:5]]
    assert [line[0] for line in lines] == ["1", "1.2"]
    assert float(lines[0][2]) > float(lines[1][2])  # narrower slots lose more pressure
    assert (tmp_path / "made" / "figures" / "cutters.svg").exists()


def test_cutters_that_cannot_make_it_leave_no_file(regen, water, tmp_path):
    wide = 'shop.cutters=[{kind="saw",width="5 mm",diameter="63 mm",depth="5 mm"}]'
    done = regen("shop", water, "-o", tmp_path / "made", "--set", wide)
    assert done.exit_code == 3
    assert not (tmp_path / "made").exists()
    assert "too wide" in done.stderr
    assert "nothing is written" in done.stderr


def test_a_bath_nobody_knows_is_a_bad_case(regen, water, tmp_path):
    done = regen(
        "shop", water, "-o", tmp_path / "made", "--set", "closeout.jacket_condition=bright"
    )
    assert done.exit_code == 2
    assert "plating.nickel_bath" in done.stderr or "closeout.jacket_condition" in done.stderr
    assert not (tmp_path / "made").exists()

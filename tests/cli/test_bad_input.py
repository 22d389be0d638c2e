"""Bad input through the command line: an exit code, plain words, no traceback, nothing lost.

The words of single keys are tested in tests/unit/test_case_errors.py; here, that they reach the
user, and everything that goes wrong outside the case's own checks.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

FEW = ("--set", "models.stations=21")


def refused(result, code: int, *said: str) -> None:
    assert result.exit_code == code, result.output
    assert "Traceback" not in result.output
    assert "bug" not in result.stderr
    for word in said:
        assert word in result.stderr, result.stderr


@pytest.mark.parametrize(
    ("override", "said"),
    [
        ("chamber.pressure=30", ("chamber.pressure", "30", "bar")),
        ('chamber.pressure="30 mm"', ("chamber.pressure", "30 mm", "pressure")),
        ("channels.widht=1", ("widht", "width")),
        ('liner.alloy="Cu-Cr-Zn"', ("Cu-Cr-Zn", "Cu-Cr-Zr")),
        ('coolant.fluid="watre"', ("watre", "water")),
        ('propellants.fuel="propan"', ("propan", "propane")),
        ('liner.wall="-1 mm"', ("liner.wall", "-1 mm")),
        ('liner.wall="0 mm"', ("liner.wall", "0 mm")),
        ("propellants.mixture_ratio=inf", ("mixture_ratio", "inf")),
        ("propellants.mixture_ratio=nan", ("mixture_ratio", "nan")),
        ("channels.count=400", ("land", "channels")),
        ('coolant.fluid="hydrogen-peroxide"', ("hydrogen-peroxide", "copper")),
        ('coolant.fluid="nitrous-oxide"', ("nitrous-oxide", "copper")),
        ('models.coolant_side="jakson"', ("jakson", "jackson")),
    ],
)
def test_a_bad_case_is_exit_code_two(regen, water, override, said):
    refused(regen("solve", water, "-o", "out", "--set", override), 2, *said)
    assert not Path("out").exists()


def test_all_errors_at_once(regen, water):
    result = regen("solve", water, "--set", "chamber.pressure=30", "--set", "channels.widht=1")
    refused(result, 2, "chamber.pressure", "widht")


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda path: path.mkdir(), "folder"),
        (lambda path: path.write_bytes(b"\x00\xff\x80binary"), "UTF-8"),
        (lambda path: path.write_text("case = 1\n[propellants\n"), "line 2"),
        (lambda path: path.write_text(""), "case"),
        (lambda path: None, "chamber.toml"),
    ],
    ids=["directory", "binary", "half a table", "empty", "absent"],
)
def test_a_case_that_cannot_be_read(regen, make, said):
    make(Path("chamber.toml"))
    refused(regen("solve", "chamber.toml"), 2, said)


def test_a_half_written_profile_names_its_line(regen, water):
    text = water.read_text()
    start, stop = text.index("width = "), text.index("depth = ")
    Path("case.toml").write_text(text[:start] + 'width = { file = "w.csv" }\n' + text[stop:])
    Path("w.csv").write_text("x [mm], width [mm]\n-100, 1.0\n0, \n")
    refused(regen("solve", "case.toml"), 2, "w.csv", "3")


def test_a_flow_that_chokes_is_exit_code_four_with_place_and_remedy(regen, hydrogen):
    result = regen("solve", hydrogen, "-o", "out", "--set", 'channels.depth="1.1 mm"')
    refused(result, 4, "x = ", "What to do", "deeper")
    # next to choking the pressure is used up first, or the coolant turns to gas, by a hair
    assert any(said in result.stderr for said in ("chokes", "use up", "as a gas"))
    assert not Path("out").exists()


def test_a_bulk_that_boils_is_exit_code_four(regen, water):
    result = regen("solve", water, "--set", 'coolant.mass_flow="0.15 kg/s"', *FEW)
    refused(result, 4, "saturation", "What to do")


@pytest.mark.parametrize(
    ("temperature", "pressure", "said"),
    [
        ("250 K", "20 bar", ("coolant.inlet_temperature", "250 K", "water", "melting", "273.1")),
        # steam tables: water boils at 377.9 K under 1.2 bar
        ("105 degC", "1.2 bar", ("coolant.inlet_temperature", "378.15 K", "saturation", "377.9")),
        ("95 degC", "0.8 bar", ("coolant.inlet_pressure", "0.8 bar", "1 to 400 bar")),
    ],
)
def test_a_feed_that_is_no_liquid_is_refused(regen, water, temperature, pressure, said):
    sets = (
        *("--set", f'coolant.inlet_temperature="{temperature}"'),
        *("--set", f'coolant.inlet_pressure="{pressure}"'),
    )
    refused(regen("solve", water, *sets), 2, *said)


def test_a_gas_cooler_than_the_usual_freezing_is_solved(regen, methane):
    # far too rich: 1140 K, with methane and carbon as products
    done = regen("solve", methane, "--set", "propellants.mixture_ratio=0.8", *FEW)
    assert done.exit_code in (0, 3), done.stderr
    assert "solid carbon is stable in the chamber itself" in " ".join(done.stdout.split())


def test_an_unwritable_folder_is_exit_code_two_and_nothing_is_lost(regen, water):
    Path("file").write_text("not a folder")
    refused(regen("solve", water, "-o", "file/out", *FEW), 2, "file/out", "-o")
    assert Path("file").read_text() == "not a folder"


def test_the_folder_keeps_what_it_had_when_a_later_solve_fails(regen, water):
    assert regen("solve", water, "-o", "out", *FEW).exit_code == 0
    before = {path: path.read_bytes() for path in Path("out").iterdir()}
    flow = 'coolant.mass_flow="0.15 kg/s"'
    refused(regen("solve", water, "-o", "out", "--set", flow, *FEW), 4)
    assert {path: path.read_bytes() for path in Path("out").iterdir()} == before


def test_a_bug_is_said_to_be_one(regen, water, monkeypatch):
    def broken(*args, **kwargs):
        message = "three"
        raise ZeroDivisionError(message)

    monkeypatch.setattr("regen.library.review.judge", broken)
    result = regen("solve", water)
    assert result.exit_code == 1
    assert "regen has a bug: ZeroDivisionError: three" in result.stderr
    assert "REGEN_TRACEBACK=1" in result.stderr
    assert "Traceback" not in result.output


def test_odd_but_valid_units_and_tables_are_the_same_case(regen, water):
    text = water.read_text()
    plain = regen("solve", water, "--json", *FEW)
    odd = {
        "coolant.inlet_pressure": "275.379517 psi gauge",
        "coolant.inlet_temperature": "62.33 degF",
        "liner.wall": "0.03937007874 in",
    }
    sets = [part for key, value in odd.items() for part in ("--set", f'{key}="{value}"')]
    same = regen("solve", water, "--json", *FEW, *sets)
    a, b = (json.loads(result.stdout)["summary"] for result in (plain, same))
    assert b["coolant_pressure_in_Pa"] == pytest.approx(20e5, rel=1e-6)
    assert b["T_wall_hot_max_K"] == pytest.approx(a["T_wall_hot_max_K"], abs=0.01)
    start, stop = text.index("width = "), text.index("depth = ")
    Path("case.toml").write_text(text[:start] + 'width = { file = "w.txt" }\n' + text[stop:])
    Path("w.txt").write_text("# a table without commas\nx[mm] width[mm]\n-100 1.0  # barrel\n0 1\n")
    assert regen("solve", "case.toml", *FEW).exit_code in (0, 3)


def test_a_thrust_that_is_not_there_is_said(regen, methane):
    text = methane.read_text().replace('throat_diameter = "38 mm"', 'thrust = "5 kN"')
    assert 'thrust = "5 kN"' in text
    Path("case.toml").write_text(text)
    sets = ("--set", 'contour.ambient_pressure="10 bar"', "--set", "contour.area_ratio=50")
    refused(regen("solve", "case.toml", *sets), 2, "contour.thrust", "10 bar", "50")


def test_more_coolant_than_fuel_cannot_return(regen, methane):
    sets = (
        *("--set", 'coolant.mass_flow="0.9 kg/s"', "--set", 'channels.depth="3 mm"'),
        *("--set", "coolant.returns_to_injector=true"),
    )
    refused(regen("solve", methane, *sets), 2, "coolant.mass_flow", "0.9 kg/s", "fuel flow")


def test_the_output_folder_is_tried_before_anything_is_solved(regen, water):
    Path("file").write_text("not a folder")
    result = regen("review", water, "-o", "file")
    refused(result, 2, "file is a file", "-o")
    assert "march" not in result.stderr


def test_an_earlier_result_that_stays_is_named(regen, water):
    assert regen("solve", water, "-o", "out", *FEW).exit_code == 0
    result = regen("solve", water, "-o", "out", "--set", 'coolant.mass_flow="0.15 kg/s"', *FEW)
    refused(result, 4, "out still holds an earlier result")


@pytest.mark.parametrize(
    ("override", "said"),
    [
        ('circuits.throat.mass_flow="0.3 kg/s"', ("add up to 1.42 kg/s", "1.44 kg/s", "0.1 %")),
        ('circuits.barrel.cooled_to="-90 mm"', ("circuits.barrel-end", "overlap", "-90 mm")),
        ('circuits.nozzle.cooled_to="400 mm"', ("circuits.nozzle", "400 mm", "off the contour")),
        ('circuits.nozzle.cooled_to="12.5 mm"', ("circuits.nozzle", "0.5 mm long", "1 mm")),
        ("circuits.barrel.count=400", ("circuits.barrel", "land width <= 0")),
        ('circuits.barrel.passes="twice"', ("circuits.barrel.passes", "down and back")),
        ('circuits.barrell.depth="1 mm"', ("barrell", "barrel")),
        ("circuits.barrel.share=0.2", ("mass_flow and share are both given",)),
        ('channels.cooled_from="-100 mm"', ("circuits.injector-end", "[channels]")),
        ("channels.turn_loss=2", ("channels.turn_loss", "no slot turns back")),
    ],
)
def test_a_circuit_that_cannot_be_is_exit_code_two(regen, calorimeter, override, said):
    refused(regen("solve", calorimeter, "-o", "out", "--set", override), 2, *said)
    assert not Path("out").exists()


def test_a_circuit_that_is_not_solved_is_exit_code_four(regen, calorimeter):
    shallow = 'circuits.throat.depth="0.15 mm"'
    result = regen("solve", calorimeter, "-o", "out", "--set", shallow)
    refused(result, 4, "circuit throat", "What to do")

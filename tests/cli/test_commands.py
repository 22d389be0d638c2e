"""Every command: what it writes, prints and returns."""

from __future__ import annotations

import hashlib
import json
import re
import shlex
from pathlib import Path

import pytest
from regen_cli.app import app

from regen.result import STATION_COLUMNS

FEW = ("--set", "models.stations=21")
ROOT = Path(__file__).parents[2]
COMMANDS = [command.name or command.callback.__name__ for command in app.registered_commands]


def words(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_and_is_in_the_readme(regen, name):
    shown = regen(name, "--help")
    assert shown.exit_code == 0
    assert len(words(shown.stdout)) > 80
    assert "Exit codes: 0 " in words(shown.stdout)
    assert f"`regen {name}" in (ROOT / "README.md").read_text()


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_a_test(name):
    texts = [path.read_text() for path in Path(__file__).parent.glob("test_*.py")]
    assert any(re.search(rf'regen\(\s*"{name}"[,)]', text) for text in texts)


@pytest.mark.parametrize("name", ["solve", "review"])
def test_help_of_the_judging_commands_says_what_goes_where(regen, name):
    shown = words(regen(name, "--help").stdout)
    for said in ("Reads CASE", "stations.csv", "result.json", "standard error", "--set", "--json"):
        assert said in shown
    for code in ("0 pass, at risk", "2 wrong usage", "3 fail", "4 not solved"):
        assert code in shown


def test_commands_are_those_of_the_contract():
    studies = ["alternatives", "as-built", "compare", "envelope", "size", "sweep", "uncertainty"]
    assert sorted(COMMANDS) == sorted(
        ["closeout", "list", "new", "review", "schema", "shop", "solve", *studies]
    )


def test_version(regen):
    assert regen("--version").stdout.startswith("regen ")


def test_new_writes_a_case_that_loads_and_never_overwrites(regen):
    made = regen("new", "chamber.toml")
    assert made.exit_code == 0
    assert "regen review chamber.toml" in made.stdout
    before = Path("chamber.toml").read_bytes()
    again = regen("new", "chamber.toml")
    assert again.exit_code == 2
    assert "exists" in again.stderr
    assert "another name" in again.stderr
    assert Path("chamber.toml").read_bytes() == before
    assert before == (ROOT / "cases" / "a-methane.toml").read_bytes()


def test_new_says_where_it_cannot_write(regen):
    refused = regen("new", "nowhere/chamber.toml")
    assert refused.exit_code == 2
    assert "nowhere/chamber.toml" in refused.stderr


def test_schema_is_json_of_every_section(regen):
    schema = json.loads(regen("schema").stdout)
    assert {"propellants", "chamber", "contour", "liner", "channels"} <= set(schema["properties"])


def test_solve_prints_a_summary_and_writes_its_files(regen, water):
    done = regen("solve", water, "-o", "out", *FEW)
    assert done.exit_code == 0, done.stderr
    shown = words(done.stdout)
    for said in ("open", "nominal", "band", "worst channel", "peak heat flux", "burnout"):
        assert said in shown
    assert "never with a whole chamber from inlet to outlet" in shown
    # progress goes to standard error alone
    assert "property table of water" in done.stderr
    assert "property table" not in done.stdout
    rows = Path("out/stations.csv").read_text().splitlines()
    assert rows[0].split(",") == list(STATION_COLUMNS)
    written = ["result.json", "stations.csv", "strength.csv"]
    assert sorted(path.name for path in Path("out").iterdir()) == written
    for said in (
        "proof pressure, the bore alone",
        "conservative life",
        "structure, mass, growth, start and stop: in result.json and the report",
    ):
        assert said in shown
    _says_what_the_jacket_lacks(json.loads(Path("out/result.json").read_text()))


def _says_what_the_jacket_lacks(found):
    """The jacket's hot strength is kept on a floor: open, exit 0, and what to give."""
    margins = {margin["name"]: margin for margin in found["margins"]}
    for name in ("jacket_stress", "roof_bending"):
        assert margins[name]["nominal"] > 0.0
        assert margins[name]["verdict"] == "open"
        assert margins[name]["columns"]["nominal"]["indicative"] is True
        assert margins[name]["closes"] == "closeout.jacket_yield_strength"
    assert margins["jacket_proof"]["nominal"] > 0.0
    findings = {(one["section"], one["name"]): one for one in found["findings"]}
    assert findings["proof", "ratio_jacket"]["value"] is None
    assert "closeout.jacket_yield_strength" in findings["proof", "ratio_jacket"]["note"]
    assert findings["mass", "whole"]["value"] == pytest.approx(found["summary"]["mass_cooled_kg"])


def test_json_is_alone_on_standard_output_and_equals_the_file(regen, water):
    done = regen("solve", water, "-o", "out", "--json", *FEW)
    found = json.loads(done.stdout)
    assert found == json.loads(Path("out/result.json").read_text())
    keys = "schema status verdict summary bands worst_channel margins notes provenance"
    assert set(keys.split()) <= set(found)
    summary = (
        "T_wall_hot_max_K x_T_wall_hot_max_m q_max_W_m2 heat_total_W coolant_temperature_out_K "
        "coolant_pressure_drop_Pa coolant_pressure_out_Pa coolant_mass_flow_kg_s "
        "chamber_temperature_K characteristic_velocity_m_s gas_mass_flow_kg_s energy_residual"
    )
    assert set(summary.split()) <= set(found["summary"])
    for name in (
        "T_wall_hot_max_K",
        "q_max_W_m2",
        "coolant_temperature_out_K",
        "coolant_pressure_drop_Pa",
    ):
        assert {"min", "chosen", "max", "members"} <= set(found["bands"][name])
    stations = Path("out/stations.csv").read_bytes()
    assert found["files"]["stations.csv"] == hashlib.sha256(stations).hexdigest()


def test_review_makes_the_folder_of_a_review(regen, water):
    done = regen("review", water, "-o", "folder", *FEW)
    assert done.exit_code == 0, done.stderr
    assert words(done.stdout).endswith("report: folder/report.html")
    found = json.loads(Path("folder/result.json").read_text())
    for name, expected in found["files"].items():
        content = (Path("folder") / name).read_bytes()
        assert hashlib.sha256(content).hexdigest() == expected, name
    assert {"report.html", "stations.csv", "figures/temperatures.svg"} <= set(found["files"])
    assert {"strength.csv", "figures/strength.svg"} <= set(found["files"])
    page = Path("folder/report.html").read_text()
    assert "models.stations = 21" in page
    assert "stations = 21" in page


def test_two_reviews_are_the_same_to_the_byte(regen, water):
    for folder in ("one", "two"):
        assert regen("review", water, "-o", folder, *FEW).exit_code == 0
    for path in Path("one").rglob("*"):
        if path.is_file():
            assert path.read_bytes() == (Path("two") / path.relative_to("one")).read_bytes(), path


def test_a_broken_limit_is_exit_code_three_with_everything_written(regen, water):
    done = regen("solve", water, "-o", "out", "--set", 'limits.T_wall_hot="350 K"', *FEW)
    assert done.exit_code == 3
    assert "fail" in done.stdout
    assert Path("out/result.json").exists()


def test_changing_the_channel_width_changes_the_answer(regen, water):
    peaks = []
    for width in ("1.2 mm", "1.0 mm"):
        done = regen("solve", water, "--json", "--set", f"channels.width={width}", *FEW)
        peaks.append(json.loads(done.stdout)["summary"]["T_wall_hot_max_K"])
    # less area at the same flow: faster coolant, cooler wall
    assert peaks[1] < peaks[0]


LISTS = ("alloys", "coolants", "propellants", "correlations", "limits")


@pytest.mark.parametrize("what", LISTS)
def test_a_list_shows_every_entry_in_words_and_in_json(regen, what):
    table = regen("list", what)
    assert table.exit_code == 0
    rows = json.loads(regen("list", what, "--json").stdout)
    assert len(rows) >= 6
    for row in rows:
        assert row["name"] in table.stdout.splitlines()
        for value in row.values():
            for text in value if isinstance(value, list) else [value]:
                assert text in table.stdout


def rows_of(regen, what) -> dict[str, dict]:
    return {row["name"]: row for row in json.loads(regen("list", what, "--json").stdout)}


def test_list_of_alloys(regen):
    from regen.metals.alloys import alloys

    rows = rows_of(regen, "alloys")
    assert list(rows) == list(alloys())
    row = rows["Cu-Cr-Zr"]
    assert any(text.startswith("hard-drawn: ") for text in row["conditions"])
    assert any(
        "short service: 800 K (wall_limits, memory-medium)" in t for t in row["hot_wall_limit"]
    )
    assert any(t.startswith("yield (hard-drawn): 298 to 1073 K") for t in row["tables"])
    assert any(t.startswith("thermal conductivity: ") for t in row["tables"])
    assert any(t.startswith("wall_limits: ") for t in row["sources"])


def test_list_of_coolants(regen):
    from regen.design import CoolantFluid

    rows = rows_of(regen, "coolants")
    taken = [name for name, row in rows.items() if "refused" not in row]
    assert taken == list(CoolantFluid.__args__)
    # critical point and triple point of water: handbook values
    assert rows["water"]["critical_point"] == "647.10 K, 220.64 bar"
    assert rows["water"]["temperature"].startswith("273 to ")
    assert "970 K (methane_coking, memory-medium)" in rows["methane"]["coolant_side_wall_limit"]
    assert "not assessed" in rows["water"]["coolant_side_wall_limit"]
    assert "clean for oxygen service" in rows["oxygen"]["cautions"][0]
    assert "stands in for RP-1" in rows["n-dodecane"]["cautions"][0]
    assert "decomposes in hot copper" in rows["hydrogen-peroxide"]["refused"]
    assert "n-dodecane is the stand-in" in rows["RP-1"]["refused"]


def test_list_of_propellants(regen):
    from regen.design import Fuel, Oxidizer

    rows = rows_of(regen, "propellants")
    assert list(rows) == [*Oxidizer.__args__, *Fuel.__args__]
    assert rows["RP-1"]["gas"] == "no"
    assert rows["isopropanol"]["gas"] == "no"
    assert rows["isopropanol"]["liquid"].startswith("250.00 to 355.00 K")
    assert rows["isopropanol"]["water"] == rows["ethanol"]["water"] != rows["methane"]["water"]
    assert "saturation" in rows["methane"]["gas"]
    # triple point of oxygen, a handbook value
    assert rows["oxygen"]["liquid"].startswith("54.36 to ")


def test_list_of_correlations(regen):
    from regen.physics.registry import CORRELATIONS, ROLES

    rows = rows_of(regen, "correlations")
    assert set(rows) == set(CORRELATIONS)
    roles = [role.replace("_", " ") for role in ROLES]
    places = [(roles.index(row["role"]), name) for name, row in rows.items()]
    assert places == sorted(places), "the order must not depend on which module registered first"
    assert {row["role"] for row in rows.values()} >= {"gas side", "coolant side", "friction"}
    for row in rows.values():
        assert row["text"]
        assert row["mark"]
        assert row["sources"]


def test_list_of_limits_has_every_key_and_where_its_value_comes_from(regen):
    from dataclasses import fields

    from regen.checks.limits import LIMITS
    from regen.design import Limits, Shop

    rows = rows_of(regen, "limits")
    keys = [f"limits.{field.name}" for field in fields(Limits)]
    keys += [f"shop.{field.name}" for field in fields(Shop)]
    assert list(rows)[: len(keys)] == keys
    assert rows["limits.yield_factor"]["value"] == str(Limits().yield_factor)
    assert rows["limits.ultimate_factor"]["mark"] == "memory-medium"
    assert rows["shop.wall_tolerance"]["value"] == "0.05 mm"
    assert rows["hot wall of Cu-Cr-Zr, long service"]["value"] == "650 K"
    assert rows["hot wall of Cu-Cr-Zr, long service"]["mark"] == "memory-medium"
    assert set(LIMITS) <= set(rows)
    assert rows["coolant_mach"]["value"] == "by limits.mach"
    assert rows["band"]["value"] == "25%"
    for name in list(rows)[len(keys) :]:
        assert rows[name]["mark"]


def test_a_list_that_builds_says_so_on_standard_error_alone(regen):
    listed = regen("list", "coolants")
    assert "property table of water" in listed.stderr
    assert "property table of" not in listed.stdout


def test_an_unknown_list_names_the_known_ones(regen):
    refused = regen("list", "pumps")
    assert refused.exit_code == 2
    assert "correlations" in words(refused.stderr)


def test_an_uncooled_throat_is_no_pass(regen, water):
    done = regen("solve", water, "--json", "--set", 'channels.cooled_to="-50 mm"', *FEW)
    found = json.loads(done.stdout)
    assert done.exit_code == 3
    (margin,) = [m for m in found["margins"] if m["name"] == "uncooled_wall"]
    assert margin["verdict"] == "open"
    assert "throat" in margin["text"]


def test_an_uncooled_end_is_judged_and_what_it_conducts_is_told(regen, water):
    done = regen("solve", water, "--json", "--set", 'channels.cooled_to="26 mm"', *FEW)
    found = json.loads(done.stdout)
    (margin,) = [m for m in found["margins"] if "lip" in m["name"]]
    assert margin["name"] == "nozzle_lip_temperature"
    assert margin["limit"] == 800.0
    assert margin["nominal"] is not None
    assert "uncooled_wall" not in {m["name"] for m in found["margins"]}
    (note,) = [note["text"] for note in found["notes"] if note["code"] == "uncooled wall"]
    assert "kW" in note
    assert "adiabatic" in note
    assert "not assessed" in {note["code"] for note in found["notes"]}


def test_a_long_uncooled_skirt_fails(regen, water):
    done = regen("solve", water, "--json", "--set", 'channels.cooled_to="5 mm"', *FEW)
    found = json.loads(done.stdout)
    assert done.exit_code == 3
    (margin,) = [m for m in found["margins"] if m["name"] == "nozzle_lip_temperature"]
    assert margin["verdict"] == "fail"


def test_review_checks_the_wall_by_finite_elements_and_solve_does_not(regen, water):
    regen("solve", water, "-o", "s", *FEW)
    done = regen("review", water, "-o", "r", *FEW)
    assert "finite elements" in done.stderr
    checks = {
        name: json.loads(Path(name, "result.json").read_text())["section_checks"] for name in "sr"
    }
    assert checks["s"] == []
    places = [check["place"] for check in checks["r"]]
    assert places == ["hottest, throat", "barrel, coolant outlet"]
    report = Path("r", "report.html").read_text()
    assert 'id="wall-check"' in report
    assert "wall_check.svg" in " ".join(str(path) for path in Path("r", "figures").iterdir())


def test_the_example_of_the_readme_works(regen):
    text = (ROOT / "README.md").read_text()
    (line,) = [one for one in text.splitlines() if "regen review" in one and "--set" in one]
    assert regen("new", "chamber.toml").exit_code == 0
    arguments = shlex.split(line)
    assert arguments[0] == "regen"
    assert regen(*arguments[1:]).exit_code == 0


def test_circuits_are_printed_and_written(regen, calorimeter):
    result = regen("solve", calorimeter, "-o", "out")
    assert result.exit_code == 0
    assert "circuit" in result.stdout
    written = json.loads(Path("out/result.json").read_text())
    names = [circuit["name"] for circuit in written["circuits"]]
    assert names[:2] == ["injector-end", "barrel"]
    for circuit in written["circuits"]:
        assert circuit["name"] in result.stdout
        assert circuit["temperature_rise_K"] >= 10.0
    rows = Path("out/stations.csv").read_text().splitlines()
    column = rows[0].split(",").index("circuit")
    assert [row.split(",")[column] for row in rows[1:]] == [
        str(n) for n in range(1, 7) for _ in range(25)
    ]
    x = [float(row.split(",")[0]) for row in rows[1:]]
    assert x == sorted(x)

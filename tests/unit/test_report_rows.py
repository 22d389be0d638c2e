"""What a report, a summary and the figures say of a made-up result: rows and curves by hand.

Every column of the stations has a number of its own, so that none can stand in for another.
"""

from __future__ import annotations

import dataclasses
import io
import json

import numpy as np
import pytest
from rich.console import Console

from regen.case.read import load_case
from regen.output import report, review
from regen.output.figures import strength as figures_strength
from regen.output.figures.review import plates
from regen.result import STATION_COLUMNS, CircuitResult, Finding, Margin
from tests.helpers.html_rows import row, rows
from tests.helpers.places import CASES
from tests.helpers.rows import columns

# at three stations; what is written of the second is worked by hand below
STATIONS = {
    "x_m": (-0.1, -0.0123, 0.02),
    "r_m": (0.05, 0.02345, 0.03),
    "area_ratio": (6.0, 1.375, 2.0),
    "mach": (0.1, 0.625, 1.7),
    "T_gas_K": (3300.0, 3210.0, 2800.0),
    "T_aw_K": (3310.0, 3291.0, 3190.0),
    "h_gas_W_m2K": (3.0e3, 12340.0, 9.0e3),
    "q_W_m2": (9.0e6, 31.26e6, 22.0e6),
    "T_wall_hot_K": (610.0, 741.0, 700.0),
    "T_wall_hot_mean_K": (605.0, 735.0, 695.0),
    "T_wall_cold_K": (560.0, 652.0, 640.0),
    "T_wall_floor_K": (555.0, 633.0, 630.0),
    "T_coolant_K": (402.0, 251.0, 150.0),
    "p_coolant_Pa": (72.0e5, 81.26e5, 89.0e5),
    "v_coolant_m_s": (60.0, 47.34, 20.0),
    "h_coolant_W_m2K": (30.0e3, 56.72e3, 40.0e3),
    "q_wetted_W_m2": (8.0e6, 19.87e6, 18.0e6),
    "channel_width_m": (1.0e-3, 0.71e-3, 0.9e-3),
    "channel_depth_m": (2.5e-3, 2.13e-3, 2.2e-3),
    "land_width_m": (2.0e-3, 1.17e-3, 1.4e-3),
    "passage_length_m": (0.13, 0.04, 0.0),
    "wall_m": (0.9e-3, 0.83e-3, 0.95e-3),
    "Re_coolant": (4e5, 3e5, 2e5),
    "mach_coolant": (0.12, 0.0876, 0.02),
    "p_gas_Pa": (29e5, 23e5, 5e5),
    "circuit": (1.0, 1.0, 1.0),
    "pass_number": (1.0, 1.0, 1.0),
}
SUMMARY = {
    "T_wall_hot_max_K": 748.0,
    "x_T_wall_hot_max_m": -0.0111,
    "T_wall_cold_max_K": 661.0,
    "q_max_W_m2": 31.44e6,
    "x_q_max_m": -0.0066,
    "heat_total_W": 712.4e3,
    "coolant_temperature_out_K": 414.0,
    "coolant_pressure_in_Pa": 90.0e5,
    "coolant_pressure_drop_Pa": 19.27e5,
    "coolant_pressure_out_Pa": 70.73e5,
    "coolant_mass_flow_kg_s": 0.4738,
    "chamber_temperature_K": 3426.0,
    "characteristic_velocity_m_s": 1783.4,
    "gas_mass_flow_kg_s": 1.8954,
    "throat_diameter_m": 0.03804,
    "energy_residual": 1e-15,
}
WORST = {
    "T_wall_hot_max_K": 903.0,
    "T_wall_cold_max_K": 807.0,
    "q_max_W_m2": 38.16e6,
    "coolant_temperature_out_K": 520.0,
    "coolant_pressure_drop_Pa": 17.5e5,
    "coolant_pressure_out_Pa": 72.5e5,
}


@pytest.fixture
def made(drawn_result):
    bands = {
        name: dataclasses.replace(
            next(iter(drawn_result.bands.values())),
            min=0.5 * SUMMARY[name],
            chosen=SUMMARY[name],
            max=1.5 * SUMMARY[name],
        )
        for name in WORST
    }
    stations = {name: np.array(STATIONS[name]) for name in STATION_COLUMNS}
    return dataclasses.replace(
        drawn_result,
        summary=SUMMARY,
        worst_channel=WORST,
        stations=stations,
        worst_stations={name: 1.25 * column for name, column in stations.items()}
        | {name: stations[name] for name in ("x_m", "circuit", "pass_number")},
        station_bands={
            "T_wall_hot_K": (stations["T_wall_hot_K"] - 70.0, stations["T_wall_hot_K"] + 130.0),
            "q_W_m2": (0.75 * stations["q_W_m2"], 1.25 * stations["q_W_m2"]),
        },
        bands=bands,
    )


@pytest.fixture
def page(made, drawn_design):
    return report.html(made, drawn_design, "", (), ())


def test_one_station_of_the_report(page):
    (head,) = [cells for cells in rows(page) if cells[-1:] == ["station"]]
    flux, film = "MW/m\u00b2", "kW/(m\u00b2 K)"
    assert head[:-1] == (
        ["x, mm", "r, mm", "A/At", "Mach gas", "T adiab. wall, K", f"h gas, {film}", f"q, {flux}"]
        + ["T wall, gas, K", "T wall, coolant, K", f"q wetted, {flux}", f"h coolant, {film}"]
        + ["T coolant, K", "p coolant, bar", "v coolant, m/s", "Mach coolant"]
        + ["wall, mm", "width, mm", "depth, mm", "land, mm"]
    )
    assert row(page, "-12.3") == (
        ["-12.3", "23.45", "1.38", "0.62", "3291", "12.3", "31.26", "741", "652", "19.87", "56.7"]
        + ["251", "81.3", "47.3", "0.088", "0.83", "0.71", "2.13", "1.17", "throat, hottest"]
    )


def test_the_quantities_of_the_report(page):
    for wanted in (
        # nominal, half and one and a half of it, worst channel
        ["peak hot-gas-side wall temperature, K", "750", "370 to 1120", "900"],
        ["peak coolant-side wall temperature, K", "660", "330 to 990", "810"],
        ["peak heat flux, MW/m2", "31.4", "15.7 to 47.2", "38.2"],
        ["coolant outlet temperature, K", "410", "210 to 620", "520"],
        ["coolant pressure drop, bar", "19.3", "9.6 to 28.9", "17.5"],
        ["coolant outlet pressure, bar", "70.7", "35.4 to 106.1", "72.5"],
        ["heat into the coolant", "712 kW"],
        ["coolant mass flow", "0.474 kg/s"],
        ["hot-gas mass flow", "1.895 kg/s"],
        ["chamber temperature at the given efficiency", "3430 K"],
        ["characteristic velocity", "1783 m/s"],
        ["throat diameter", "38.04 mm"],
    ):
        assert row(page, wanted[0]) == wanted


def test_the_same_in_the_terminal(made):
    console = Console(record=True, width=200, file=io.StringIO())
    review.print_summary(made, console)
    shown = [line.split() for line in console.export_text().splitlines()]
    assert "peak hot-gas-side wall temperature, K 750 370 to 1120 900".split() in shown
    assert "coolant pressure drop, bar 19.3 9.6 to 28.9 17.5".split() in shown
    for label, value in (("heat into the coolant", "712 kW"), ("throat diameter", "38.04 mm")):
        assert f"{label} {value}" in " ".join(" ".join(words) for words in shown)


def margin(name, unit, limit, kind, nominal, edge, worst, x):
    return Margin(
        name,
        f"{name} in words",
        unit,
        limit,
        kind,
        columns(nominal, edge, worst),
        x,
        "at risk",
        "bartz1957",
    )


def test_margins_of_the_report(made, drawn_design):
    """A value is limit (1 - margin), or limit (1 + margin) for what must at least be there."""
    given = (
        margin("hot_wall_temperature", "K", 800.0, "max", 0.05, -0.26, -0.14, -0.0123),
        margin("ligament_stress", "Pa", 204.1e6, "max", 0.5, 0.25, 0.125, 0.02),
        margin("injector_pressure", "Pa", 6.0e5, "min", 0.5, -0.2, 1.5, -0.1),
        margin("burnout", "W/m2", 40.0e6, "max", 0.25, 0.1, -0.3, -0.004),
    )
    result = dataclasses.replace(made, margins=given)
    found = rows(report.html(result, drawn_design, "", (), ()))
    found = {cells[0].split(":")[0]: cells[1:7] for cells in found if " in words" in cells[0]}
    most, least = "\u2264 ", "\u2265 "
    assert found == {
        "hot wall temperature": ["760 K", f"{most}800 K", "-12", "+5 %", "-26 %", "-14 %"],
        "ligament stress": ["102.0 MPa", f"{most}204.1 MPa", "20", "+50 %", "+25 %", "+12 %"],
        "injector pressure": ["9.0 bar", f"{least}6.0 bar", "-100", "+50 %", "-20 %", "+150 %"],
        "burnout": ["30.00 MW/m2", f"{most}40.00 MW/m2", "-4", "+25 %", "+10 %", "-30 %"],
    }


def test_a_finding_and_its_place_in_the_report(made, drawn_design):
    one = Finding("proof", "pressure_bore", "bore alone", 45.4e5, "Pa", "bartz1957", -0.0451)
    given = dataclasses.replace(made, findings=(one,))
    found = row(report.html(given, drawn_design, "", (), ()), "bore alone")
    assert found == ["bore alone", "45.4 bar", "-45", "bartz1957"]


def test_one_circuit_of_the_report(made):
    circuit = CircuitResult(
        name="throat",
        mass_flow_kg_s=0.1234,
        flow_share=0.37,
        temperature_in_K=120.0,
        temperature_out_K=161.0,
        temperature_rise_K=41.4,
        pressure_in_Pa=90e5,
        pressure_out_Pa=87e5,
        pressure_drop_Pa=3.14e5,
        heat_W=45.67e3,
        T_wall_hot_max_K=744.0,
        x_T_wall_hot_max_m=-0.0123,
        x_from_m=-0.0401,
        x_to_m=0.0199,
    )
    table = review.circuits_table(dataclasses.replace(made, circuits=(circuit,)))
    assert dict(zip(table.headings, table.texts()[0], strict=True)) == {
        "circuit": "throat",
        "x, mm": "-40 to 20",
        "flow, kg/s": "0.123",
        "share, %": "37",
        "heat, kW": "45.7",
        "rise, K": "41",
        "drop, bar": "3.1",
        "hot wall, K": "740",
        "at x, mm": "-12",
    }


def test_one_row_of_the_wall_check(made, drawn_check):
    """755 against 750 K of the elements over a coolant of 250 K; 30.3 against 30 MW/m2."""
    table = review.wall_check_table(dataclasses.replace(made, section_checks=(drawn_check,)))
    assert dict(zip(table.headings, table.texts()[0], strict=True)) == {
        "place": "throat",
        "x, mm": "-5.0",
        "closed form, K": "755",
        "finite elements, K": "750",
        "difference, K": "+5.0",
        "of wall less coolant, %": "+1.0",
        "heat flux, %": "+1.0",
        "mesh, K": "0.05",
    }


def test_files_have_si_units(made, tmp_path):
    review.write(made, load_case(CASES / "a-methane.toml").design, tmp_path)
    head, _, second, _ = (tmp_path / "stations.csv").read_text().splitlines()
    found = dict(zip(head.split(","), map(float, second.split(",")), strict=True))
    assert found == {name: values[1] for name, values in STATIONS.items()}
    whole = json.loads((tmp_path / "result.json").read_text())
    assert whole["summary"] == SUMMARY
    assert whole["inputs"]["channels.count"] == "80"
    assert whole["inputs"]["liner.wall"] == "0.8 mm"
    assert whole["worst_channel"] == WORST
    band = whole["bands"]["coolant_pressure_drop_Pa"]
    assert (band["min"], band["chosen"], band["max"]) == (9.635e5, 19.27e5, 28.905e5)


def curves(ax):
    return {line.get_label(): np.asarray(line.get_xydata()) for line in ax.get_lines()}


def drawn(made, drawn_design, name):
    (plate,) = [one for one in plates(made, drawn_design) if one.name == name]
    axes = plate.draw().axes
    return [curves(ax) for ax in axes], [ax.get_ylabel() for ax in axes]


def check_curve(found, column, factor, worst=1.0):
    x = 1e3 * np.array(STATIONS["x_m"])
    y = worst * factor * np.array(STATIONS[column])
    np.testing.assert_allclose(found, np.stack([x, y], axis=-1), rtol=1e-12, err_msg=column)


def test_curves_of_temperature(made, drawn_design):
    (gas, wall), labels = drawn(made, drawn_design, "temperatures")
    check_curve(gas["adiabatic wall"], "T_aw_K", 1.0)
    check_curve(gas["gas, static"], "T_gas_K", 1.0)
    check_curve(wall["hot-gas side, nominal"], "T_wall_hot_K", 1.0)
    check_curve(wall["hot-gas side, worst channel"], "T_wall_hot_K", 1.0, 1.25)
    check_curve(wall["coolant side, nominal"], "T_wall_cold_K", 1.0)
    check_curve(wall["coolant bulk, nominal"], "T_coolant_K", 1.0)
    assert labels == ["gas temperature [K]", "wall and coolant temperature [K]"]


def test_curves_of_flux(made, drawn_design):
    (flux, wall), labels = drawn(made, drawn_design, "heat_flux")
    check_curve(flux["hot-gas surface, nominal"], "q_W_m2", 1e-6)
    check_curve(flux["hot-gas surface, worst channel"], "q_W_m2", 1e-6, 1.25)
    check_curve(flux["slot floor (wetted), nominal"], "q_wetted_W_m2", 1e-6)
    check_curve(wall["hot-gas side, nominal"], "T_wall_hot_K", 1.0)
    assert labels == ["heat flux [MW/m\u00b2]", "hot-gas-side wall temperature [K]"]


def test_curves_of_the_coolant(made, drawn_design):
    found, labels = drawn(made, drawn_design, "coolant")
    for axis, (column, factor) in zip(
        found,
        (("p_coolant_Pa", 1e-5), ("v_coolant_m_s", 1.0), ("mach_coolant", 1.0)),
        strict=True,
    ):
        check_curve(axis["nominal"], column, factor)
        check_curve(axis["worst channel"], column, factor, 1.25)
    # in at the nozzle end, where the way is none: 90 bar; out at the injector end
    np.testing.assert_allclose(found[0]["manifolds, at rest"], [(20.0, 90.0), (-100.0, 70.73)])
    assert labels == ["static pressure [bar]", "velocity [m/s]", "Mach number [-]"]


def test_curves_of_the_film_coefficients(made, drawn_design):
    (gas, cold), labels = drawn(made, drawn_design, "film_coefficients")
    check_curve(gas["nominal"], "h_gas_W_m2K", 1e-3)
    check_curve(cold["nominal"], "h_coolant_W_m2K", 1e-3)
    assert labels[0].startswith("gas side [kW/(m\u00b2 K)]")
    assert labels[1].startswith("coolant side [kW/(m\u00b2 K)]")


def test_bars_of_the_margins(made, drawn_design):
    one = margin("hot_wall_temperature", "K", 800.0, "max", 0.05, -0.26, -0.14, 0.0)
    result = dataclasses.replace(made, margins=(one,))
    (plate,) = [one for one in plates(result, drawn_design) if one.name == "margins"]
    (ax,) = plate.draw().axes
    marked = {line.get_label(): line.get_marker() for line in ax.get_lines() if line.get_label()}
    ends = {
        line.get_marker(): float(line.get_xdata()[0])
        for line in ax.get_lines()
        if len(line.get_xdata()) == 1
    }
    for label, value in (("nominal", 5.0), ("band edge", -26.0), ("worst channel", -14.0)):
        (marker,) = [mark for name, mark in marked.items() if name.startswith(label)]
        assert ends[marker] == pytest.approx(value)
    text = [one.get_text() for one in ax.texts]
    assert text == ["+5 %", "-26 %", "-14 %"]


LABELS = {
    "hot wall, run": "margin_ligament_stress",
    "hot wall, proof": "margin_ligament_proof",
    "lands, start": "margin_land_tension",
    "lands, proof": "margin_land_proof",
    "bond, proof": "margin_bond_stress",
    "jacket, run": "margin_jacket_stress",
    "roof, run": "margin_roof_bending",
    "jacket, proof": "margin_jacket_proof",
}
"""What a legend of the strength checks means: where, and when."""


def test_curves_of_the_strength_checks(made):
    given = {name: np.array([0.1, 0.2, 0.3]) + n for n, name in enumerate(LABELS.values())}
    given |= {
        "strain_range": np.array([0.02, 0.03, 0.025]),
        "strain_range_low": np.array([0.01, 0.012, 0.011]),
        "strain_range_plastic": np.array([0.015, 0.025, 0.02]),
    }
    result = dataclasses.replace(made, checked=given)
    upper, lower = figures_strength.strength(result).axes
    x = 1e3 * np.array(STATIONS["x_m"])
    found = curves(upper)
    for n, label in enumerate(LABELS):
        wanted = np.stack([x, 100.0 * (np.array([0.1, 0.2, 0.3]) + n)], axis=-1)
        np.testing.assert_allclose(found[label], wanted, err_msg=label)
    for label, column in (
        ("conservative", "strain_range"),
        ("optimistic", "strain_range_low"),
        ("plastic part of it", "strain_range_plastic"),
    ):
        np.testing.assert_allclose(curves(lower)[label][:, 1], 100.0 * given[column])


def test_a_result_comes_back_from_its_folder(made):
    values = json.loads(json.dumps(review.result_object(made)))
    again = review.result_object(review.result_from(values, made.stations))
    values["section_checks"] = []  # drawn once, not kept as objects
    assert json.loads(json.dumps(again)) == values

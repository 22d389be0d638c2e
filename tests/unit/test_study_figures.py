"""Figures of the studies: the curves of made-up results, read back by their labels."""

from __future__ import annotations

import dataclasses
from types import SimpleNamespace

import numpy as np
import pytest

from regen.case.read import load_case
from regen.design import Profile
from regen.output.figures.size import sizing_figure
from regen.output.figures.sweep import curves_figure, front_figure
from regen.output.figures.uncertainty import (
    bands_figure,
    distribution_figure,
    probability_figure,
)
from regen.output.sweep_table import summary_of
from regen.studies.sweep.vary import grid_of
from regen.studies.uncertainty.study import Along, Kept
from tests.helpers.places import CASES


def curves(ax):
    """Return x and y of each line of a panel by its label."""
    found = {}
    for line in ax.get_lines():
        x, y = (np.asarray(values, dtype=float).tolist() for values in line.get_data())
        found.setdefault(line.get_label(), (x, y))
    return found


@pytest.fixture
def swept(tmp_path):
    case = load_case(CASES / "a-methane.toml")
    plan = grid_of(["liner.wall=0.6:0.8:3:mm"], case, "worst")
    path = tmp_path / "sweep.csv"
    path.write_text(
        "row,liner.wall_m,status,verdict,nominal_kept,T_wall_hot_max_K,coolant_pressure_drop_Pa,"
        "land_width_min_m,throat_diameter_m,T_wall_hot_max_worst_K,margin_hot_wall_temperature_nominal,"
        "margin_hot_wall_temperature_worst_channel\n"
        "0,0.0006,solved,fail,0,702,2400000,0.001,0.038,810,0.12,-0.01\n"
        "1,0.0007,solved,at risk,1,725,2100000,0.001,0.038,850,0.09,-0.06\n"
        "2,0.0008,solved,at risk,1,748,1900000,0.001,0.038,903,0.065,-0.13\n"
    )
    return summary_of(path, plan, frozenset())


def test_the_curves_of_a_sweep(swept):
    wall, drop, margins = curves_figure(swept).axes
    x = pytest.approx([0.6, 0.7, 0.8])
    by_name = {label: points for label, points in curves(wall).items() if len(points[0]) == 3}
    nominal = next(label for label in by_name if "nominal" in label)
    worst = next(label for label in by_name if "worst" in label)
    assert by_name[nominal] == (x, [702.0, 725.0, 748.0])
    assert by_name[worst] == (x, [810.0, 850.0, 903.0])
    assert curves(drop)[nominal] == (x, pytest.approx([24.0, 21.0, 19.0]))
    found = curves(margins)
    assert found["hot wall temperature"] == (x, pytest.approx([12.0, 9.0, 6.5]))
    (least,) = [points for label, points in found.items() if label.startswith("least")]
    assert least == (x, pytest.approx([-1.0, -6.0, -13.0]))
    assert margins.get_xlabel().endswith("[mm]")
    assert "[bar]" in drop.get_ylabel()


def test_the_front_of_a_sweep(swept):
    """The row that fails is no part of it; the least drop comes first."""
    (ax, *_) = front_figure(swept).axes
    found = curves(ax)
    (front,) = [points for label, points in found.items() if label.startswith("front")]
    assert front == (pytest.approx([19.0, 21.0]), [748.0, 725.0])
    assert found["a limit exceeded or not evaluated"] == (pytest.approx([24.0]), [702.0])


def test_a_sized_case_before_and_now(drawn_result, drawn_design):
    """Constant sizes of its own before and after, so that none can stand for another."""

    def sized(count, width, depth, wall):
        channels = dataclasses.replace(
            drawn_design.channels,
            count=count,
            width=Profile.constant(width),
            depth=Profile.constant(depth),
        )
        liner = dataclasses.replace(drawn_design.liner, wall=Profile.constant(wall))
        return dataclasses.replace(drawn_design, channels=channels, liner=liner)

    before, now = sized(80, 0.7e-3, 2.0e-3, 0.8e-3), sized(96, 0.6e-3, 2.2e-3, 0.65e-3)
    stations = dict(drawn_result.stations)
    stations["T_wall_hot_K"] = stations["T_wall_hot_K"] - 45.0
    summary = dict(drawn_result.summary) | {"coolant_pressure_drop_Pa": 18.4e5}
    result = dataclasses.replace(drawn_result, stations=stations, summary=summary)
    answer = SimpleNamespace(result=result, before=drawn_result, case=SimpleNamespace(design=now))
    wall, slots = sizing_figure(answer, before).axes
    x = 1e3 * drawn_result.stations["x_m"]
    found = curves(wall)
    for label, of in (
        ("wall before, nominal", drawn_result.stations),
        ("wall now, nominal", stations),
        ("wall now, worst channel", drawn_result.worst_stations),
    ):
        assert found[label] == (pytest.approx(x), pytest.approx(of["T_wall_hot_K"])), label
    found = curves(slots)
    for size, old, new in (
        ("slot width", 0.7, 0.6),
        ("slot depth", 2.0, 2.2),
        ("wall thickness", 0.8, 0.65),
    ):
        (label,) = [one for one in found if one.endswith(" now") and size in one]
        assert found[label][1] == pytest.approx([new] * 9)
        assert found[label.replace("now", "before")][1] == pytest.approx([old] * 9)
    assert found["land now"][1] == pytest.approx([0.9] * 9)
    assert "80 slots before, 96 now; pressure drop 20.6 bar before, 18.4 bar now" in (
        slots.get_xlabel()
    )


@pytest.fixture
def spread(drawn_result):
    """Ten designs counted, two of them not solved."""
    peaks = np.array([700.0, 710, 720, 730, 740, 750, 760, 770, np.nan, np.nan, 999.0])
    rows = SimpleNamespace(solved=np.isfinite(peaks))
    outputs = {"T_wall_hot_max_K": peaks}
    kept = (
        Kept("hot_wall_temperature", 5, 2, 1, 2, False, 0.24, 0.76),
        Kept("coolant_mach", 8, 0, 0, 2, False, 0.49, 0.94),
    )
    return SimpleNamespace(
        title="Linnet", base=10, seed=4, rows=rows, outputs=outputs, nominal=drawn_result, kept=kept
    )


def test_bands_along_the_chamber(spread):
    x = np.array([-0.1, 0.0, 0.05])
    levels = np.array([[500.0, 650, 600], [510, 680, 620], [520, 700, 640], [530, 720, 660]])
    along = Along(x, np.vstack([levels, [[540.0, 760, 690]]]), "")
    (ax,) = bands_figure(spread, along).axes
    found = curves(ax)
    assert found["50 %"] == (pytest.approx([-100.0, 0.0, 50.0]), [520.0, 700.0, 640.0])
    assert found["the case itself"][0] == pytest.approx(1e3 * spread.nominal.stations["x_m"])
    assert found["limit of the wall, 800 K"][1] == [800.0, 800.0]
    ends = {}
    for area in ax.collections:
        y = area.get_paths()[0].vertices[:, 1]
        ends[area.get_label()] = (y.min(), y.max())
    assert ends == {"5 to 95 % of designs": (500.0, 760.0), "25 to 75 %": (510.0, 720.0)}


def test_the_spread_of_peaks(spread):
    """Each of eight solved designs is a tenth; the design that is not counted is not there."""
    ax = next(ax for ax in distribution_figure(spread).axes if ax.get_lines())
    found = curves(ax)
    wanted = ([700.0, 710, 720, 730, 740, 750, 760, 770], pytest.approx(np.arange(1, 9) / 10))
    assert found["share of designs at or below"] == wanted
    assert found["the case itself, 760 K"][0] == [763.4, 763.4]
    assert found["limit, 800 K"][0] == [800.0, 800.0]
    assert found["solved: 80.0 % of designs"][1] == pytest.approx([0.8, 0.8])


def test_bars_of_probability(spread):
    ax = probability_figure(spread).axes[0]
    widths = [round(bar.get_width(), 6) for bar in ax.patches]
    assert widths == [0.5, 0.2, 0.1, 0.2, 0.8, 0.0, 0.0, 0.2]
    labels = [text.get_text() for text in ax.get_yticklabels()]
    assert labels == ["hot wall temperature", "coolant Mach number"]
    said = [text.get_text() for text in ax.texts]
    assert said == ["0.500 (0.240 to 0.760)", "0.800 (0.490 to 0.940)"]

"""An operating envelope made up by hand: what file, terminal and throttle figure say of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from regen.case.read import load_case
from regen.output import envelope as output
from regen.output.figures.throttle import throttle_figure
from regen.studies.envelope.axes import axes_of
from regen.studies.envelope.operation import Point
from regen.studies.envelope.study import Envelope, Row
from tests.helpers.places import CASES
from tests.helpers.rows import SUMMARY, csv_rows, margin


def point(bar, *margins, **more):
    """Return a solved point of the throttle line; the coolant comes at three times its pressure."""
    given = {
        "status": "solved",
        "verdict": "pass",
        "summary": SUMMARY,
        "regime": "above",
        "coolant_side": "gnielinski",
        "nominal": bar == 30.0,
    }
    at = Point(bar * 1e5, 3.0, 120.0, 3e5 * bar, None)
    return Row(at, on_map=True, on_line=True, margins=margins, **(given | more))


def made_of(*rows):
    design = load_case(CASES / "a-methane.toml").design
    axes = axes_of({"chamber_pressure": "15:30:2:bar", "mixture_ratio": "3:3.2:2"}, design)
    return Envelope("Linnet", axes, {}, rows, 45.99e5, {})


@pytest.fixture
def throttled():
    return made_of(
        point(15.0, margin("hot_wall_temperature", -0.25, verdict="fail"), verdict="fail"),
        point(22.5, margin("hot_wall_temperature", 0.01)),
        point(30.0, margin("hot_wall_temperature", 0.065, -0.2, -0.13)),
    )


def test_one_row_of_the_envelope(throttled):
    found = csv_rows(output.table(throttled))[1]
    numbers = {
        "chamber_pressure_Pa": 22.5e5,
        "chamber_pressure_over_nominal": 0.75,
        "mixture_ratio": 3.0,
        "coolant_inlet_temperature_K": 120.0,
        "coolant_inlet_pressure_given_Pa": 67.5e5,
        **{name: SUMMARY[name] for name in output.SUMMARY},
        "margin_hot_wall_temperature_nominal": 0.01,
    }
    assert {name: float(found[name]) for name in numbers} == pytest.approx(numbers)
    assert found["coolant_outlet_pressure_given_Pa"] == ""
    assert (found["nominal_point"], found["on_map"]) == ("no", "yes")


def test_margins_of_the_envelope_are_those_of_their_run(throttled):
    *_, own = csv_rows(output.table(throttled))
    runs = {"nominal": 0.065, "band_edge": -0.2, "worst_channel": -0.13}
    for run, value in runs.items():
        assert float(own[f"margin_hot_wall_temperature_{run}"]) == value


def test_the_envelope_in_words(throttled):
    said = output.lines(throttled)
    assert (
        "throttle line, 15 to 30 bar (50% to 100%): every nominal limit is met from 22.5 to 30 "
        "bar (75% to 100%); at 15 bar (50%): hot wall temperature -25 %"
    ) in said
    (broken,) = [line for line in said if line.startswith("hot wall temperature: exceeded")]
    assert "at 1 point, by up to -25 %" in broken
    assert "chamber pressure 15 bar" in broken
    assert any("least nominal margin: hot wall temperature at 3 of 3 points" in x for x in said)


def test_the_worst_of_what_is_broken_and_the_least_of_what_is_kept(throttled):
    first, second, own = throttled.rows
    by_name = [
        (("hot_wall_temperature", -0.1), ("coolant_mach", 0.2)),
        (("hot_wall_temperature", -0.25), ("coolant_mach", 0.3)),
        (("hot_wall_temperature", 0.3), ("coolant_mach", 0.1)),
    ]
    rows = tuple(
        replace(at, margins=tuple(margin(*one) for one in given))
        for at, given in zip((first, second, own), by_name, strict=True)
    )
    said = output.lines(replace(throttled, rows=rows))
    (broken,) = [line for line in said if "exceeded by the nominal channel" in line]
    assert broken.startswith(
        "hot wall temperature: exceeded by the nominal channel at 2 points, by "
    )
    assert "by up to -25 %: chamber pressure 15 to 22.5 bar" in broken
    assert (
        "least nominal margin: hot wall temperature at 2, coolant Mach number at 1 of 3 points"
        in said
    )


def curves(ax):
    """Return x and y of each line of a panel by its label."""
    lines = ((line.get_label(), line.get_data()) for line in ax.get_lines())
    return {label: tuple(np.asarray(v, dtype=float).tolist() for v in xy) for label, xy in lines}


def test_the_throttle_line():
    """Half and whole chamber pressure."""

    def solved(bar, T, q, p_out, left):
        summary = {
            "T_wall_hot_max_K": T,
            "q_max_W_m2": q,
            "coolant_pressure_in_Pa": 3e5 * bar,
            "coolant_pressure_out_Pa": p_out,
        }
        margins = margin("hot_wall_temperature", left), margin("coolant_mach", 0.4 - left)
        return point(bar, *margins, summary=summary, T_wall_hot_band=(T - 90.0, T + 110.0))

    half, whole = solved(15.0, 655.0, 17e6, 38e5, 0.18), solved(30.0, 748.0, 31e6, 70e5, 0.065)
    wall, flux, pressure, margins = throttle_figure(made_of(half, whole)).axes[:4]
    p = pytest.approx([15.0, 30.0])
    assert curves(wall)["nominal"] == (p, [655.0, 748.0])
    assert curves(wall)["limit 800 K"][1] == [800.0, 800.0]
    over = curves(flux)["peak heat flux over the case's"]
    assert over == (p, pytest.approx([17 / 31, 1.0]))
    found = curves(pressure)
    assert found["coolant inlet"] == (p, pytest.approx([45.0, 90.0]))
    assert found["coolant outlet"] == (p, pytest.approx([38.0, 70.0]))
    assert found["chamber"] == (p, p)
    assert found["critical, 46.0 bar"][1] == pytest.approx([45.99, 45.99])
    found = curves(margins)
    assert found["hot wall temperature"] == (p, pytest.approx([18.0, 6.5]))
    assert found["coolant Mach number"] == (p, pytest.approx([22.0, 33.5]))
    (band,) = wall.collections
    y = band.get_paths()[0].vertices[:, 1]
    assert (y.min(), y.max()) == (565.0, 858.0)

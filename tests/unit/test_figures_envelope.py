"""Maps and throttle line of an invented envelope: every limit named, nothing unsolved coloured."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from matplotlib.text import Text

from regen.output.envelope import lines, write
from regen.output.figures import envelope as figures
from regen.output.figures.envelope_map import FINE, least, map_of, refine
from regen.output.figures.style import LINES
from regen.output.figures.throttle import throttle_figure
from regen.studies.envelope.axes import KINDS, Axis
from regen.studies.envelope.operation import Point
from regen.studies.envelope.study import Envelope, Row
from tests.helpers.rows import margin

PRESSURES = (10e5, 15e5, 20e5, 25e5, 30e5)
RATIOS = (2.0, 2.5, 3.0, 3.5)
P_CRITICAL = 46e5


def judged(name, nominal, **more):
    """Return a margin whose band edge is worse by 0.1."""
    edge = None if nominal is None else nominal - 0.1
    return margin(name, nominal, edge, nominal, **more)


def row(p: float, ratio: float) -> Row:
    """Hot wall at its limit at 17.5 bar, Mach number at mixture ratio 2.25, boiling at 10 bar."""
    point = Point(p, ratio, 120.0, 3.0 * p, None)
    placed = Row(point, on_map=True, on_line=ratio == 3.0, nominal=(p, ratio) == (30e5, 3.0))
    if p < 12e5:
        return Row(
            *(point, placed.on_map, placed.on_line, placed.nominal, "bulk boiling"),
            reason="not solved: it boils. What to do: raise the pressure.",
            x_m=0.03,
            regime="below",
            coolant_side="gnielinski",
        )
    margins = (
        judged("hot_wall_temperature", (p - 17.5e5) / 50e5),
        judged("melting", 0.9),
        judged("coolant_mach", (ratio - 2.25) / 5.0),
        judged("thermal_stress", (ratio - 2.75) / 5.0, verdict=None),
    )
    summary = {
        "T_wall_hot_max_K": 800.0 * (1.0 - (p - 17.5e5) / 50e5),
        "q_max_W_m2": 30e6 * (p / 30e5) ** 0.8,
        "coolant_pressure_in_Pa": 3.0 * p,
        "coolant_pressure_out_Pa": 2.2 * p,
    }
    return Row(
        *(point, placed.on_map, placed.on_line, placed.nominal, "solved"),
        verdict="at risk",
        summary=summary,
        T_wall_hot_band=(600.0, 900.0),
        margins=margins,
        regime="above",
        coolant_side="jackson",
    )


@pytest.fixture
def invented() -> Envelope:
    axes = (Axis(KINDS[0], PRESSURES, 30e5), Axis(KINDS[1], RATIOS, 3.0))
    rows = tuple(row(p, ratio) for p in PRESSURES for ratio in RATIOS)
    rules = {"coolant flow": "the flow follows", "coolant pressure": "the pressure follows"}
    return Envelope("Linnet <invented>", axes, rules, rows, P_CRITICAL, {})


def texts(figure) -> str:
    return "\n".join(one.get_text() for one in figure.findobj(Text))


# --- arrays ------------------------------------------------------------------------------------
def test_the_map_is_margins_by_limit_with_nothing_where_nothing_was_solved(invented):
    found = map_of(invented, ("nominal",))
    wall = found.margins["hot_wall_temperature"]
    assert wall.shape == (4, 5)
    assert np.isnan(wall[:, 0]).all()
    np.testing.assert_allclose(wall[2, 1:], [-0.05, 0.05, 0.15, 0.25])
    assert found.informative == {"thermal_stress"}
    assert list(found.deciding) == ["hot_wall_temperature", "melting", "coolant_mach"]


def test_broken_by_one_run_is_broken_and_kept_needs_all():
    axes = (Axis(KINDS[0], (20e5, 30e5), 30e5), Axis(KINDS[1], (2.5, 3.0), 3.0))
    plain = {p: row(p, 3.0) for p in (20e5, 30e5)}

    def with_runs(p, ratio, band_edge, worst):
        changed = margin("coolant_mach", 0.2, band_edge, worst)
        point = plain[p].point._replace(mixture_ratio=ratio)
        return Row(point, True, False, False, "solved", margins=(changed,))

    rows = (
        with_runs(20e5, 2.5, None, -0.1),
        with_runs(30e5, 2.5, None, 0.1),
        with_runs(20e5, 3.0, 0.05, 0.1),
        with_runs(30e5, 3.0, -0.2, -0.1),
    )
    found = map_of(Envelope("", axes, {}, rows, P_CRITICAL, {}), ("band_edge", "worst_channel"))
    expected = [[-0.1, np.nan], [0.05, -0.2]]
    np.testing.assert_array_equal(found.margins["coolant_mach"], expected)


def test_a_limit_that_makes_no_demand_is_kept(invented):
    first = invented.rows[4]
    extra = Row(
        *(first.point, True, False, False, "solved"),
        margins=(*first.margins, judged("burnout", -0.3)),
        summary=first.summary,
    )
    rows = (*invented.rows[:4], extra, *invented.rows[5:])
    found = map_of(Envelope("", invented.axes, {}, rows, P_CRITICAL, {}), ("nominal",))
    burnout = found.margins["burnout"]
    assert burnout[0, 1] == -0.3
    assert np.isnan(burnout[0, 0])
    assert (burnout[0, 2:] == 1.0).all()


def test_between_the_points_everything_is_straight():
    x, y = np.array([0.0, 1.0, 3.0]), np.array([0.0, 2.0])
    fine = refine(1.0 + 2.0 * x[None, :] - 3.0 * y[:, None])
    assert fine.shape == (FINE + 1, 2 * FINE + 1)
    assert fine[FINE // 2, FINE // 2] == pytest.approx(1.0 + 2.0 * 0.5 - 3.0 * 1.0)
    assert fine[-1, -1] == pytest.approx(1.0 + 6.0 - 6.0)


def test_a_cell_with_an_unsolved_corner_shows_nothing():
    fine = refine(np.array([[np.nan, 1.0, 1.0], [1.0, 1.0, 1.0]]))
    assert np.isnan(fine[1:-1, 1 : FINE - 1]).all()
    assert np.isfinite(fine[:, FINE + 1 :]).all()


def test_the_least_margin_is_not_known_where_one_is_not_and_the_others_are_kept():
    value, which = least(
        {"a": np.array([[0.2, 0.2, -0.1]]), "b": np.array([[0.1, np.nan, np.nan]])}
    )
    np.testing.assert_array_equal(value, [[0.1, np.nan, -0.1]])
    np.testing.assert_array_equal(which, [[1, -1, 0]])


# --- figures -----------------------------------------------------------------------------------
@pytest.mark.parametrize("name", figures.MAPS)
def test_a_map_names_its_axes_limits_point_and_what_is_not_solved(invented, name):
    figure = figures.map_figure(invented, name)
    figure.draw_without_rendering()
    said = texts(figure)
    for words in (
        "chamber pressure [bar]",
        "chamber pressure [% of the case's]",
        "mixture ratio [-]",
        "least margin [% of the limit]",
        "hot wall temperature at its limit",
        "coolant Mach number at its limit",
        "thermal stress at its limit (information)",
        "kept wherever solved: melting",
        "not solved: bulk\nboiling",
        "coolant inlet at its critical pressure",
        "nominal",
        "Linnet <invented>",
        "the pressure follows",
        "held: coolant inlet temperature 120 K",
    ):
        assert words in said


def test_a_limit_is_drawn_where_it_is_reached(invented):
    """The hot wall's line lies at 17.5 bar and the Mach number's at 2.25, by construction."""
    figure = figures.map_figure(invented, "envelope_nominal")
    margin_ax = figure.axes[0]
    positions = {text.get_text(): text.get_position() for text in margin_ax.texts}
    assert positions["hot wall temperature"][0] == pytest.approx(17.5)
    assert positions["coolant Mach number"][1] == pytest.approx(2.25)
    # 46 bar over 3 times the chamber pressure
    assert positions["coolant inlet critical"][0] == pytest.approx(46.0 / 3.0)


def test_the_map_marks_the_case_and_every_point(invented):
    for ax in figures.map_figure(invented, "envelope_nominal").axes[:2]:
        marks = {line.get_marker(): line.get_xydata() for line in ax.lines}
        assert len(marks["."]) == 16
        assert len(marks["x"]) == 4
        np.testing.assert_allclose(marks["o"], [[30.0, 3.0]])


def test_the_governing_limit_is_named_in_its_region(invented):
    which = figures.map_figure(invented, "envelope_nominal").axes[1]
    positions = {text.get_text(): text.get_position() for text in which.texts}
    # the margins are equal on (p - 17.5 bar)/50 bar = (ratio - 2.25)/5
    p, ratio = positions["hot wall temperature"]
    assert (p - 17.5) / 50.0 < (ratio - 2.25) / 5.0
    p, ratio = positions["coolant Mach number"]
    assert (p - 17.5) / 50.0 > (ratio - 2.25) / 5.0
    assert "melting" not in positions


def test_names_on_a_map_do_not_cover_each_other(invented):
    figure = figures.map_figure(invented, "envelope_nominal")
    figure.draw_without_rendering()
    for ax in figure.axes[:2]:
        boxes = [text.get_window_extent() for text in ax.texts]
        for i, one in enumerate(boxes):
            assert not any(one.overlaps(other) for other in boxes[i + 1 :])


def test_a_broken_limit_is_darker_in_grey_than_a_kept_one():
    grey = [np.dot(to_rgb(colour), (0.299, 0.587, 0.114)) for colour in figures.FILLS]
    assert grey == sorted(grey)
    assert len(figures.FILLS) == len(figures.LEVELS) + 1
    below = figures.LEVELS.index(0.0)
    assert grey[below + 1] - grey[below] > 0.1  # the step at zero is plain to see


def test_lines_differ_by_more_than_colour():
    dashes = [str(dash) for _, dash in LINES[:7]]
    assert len(set(dashes)) == len(dashes)


def test_the_throttle_line_shows_flux_pressures_and_margins(invented):
    figure = throttle_figure(invented)
    figure.draw_without_rendering()
    said = texts(figure)
    for words in (
        "peak hot-wall\ntemperature [K]",
        "limit 800 K",
        "(chamber pressure over the case's)$^{0.8}$",
        "critical, 46.0 bar",
        "nominal margin [% of the limit]",
        "hot wall temperature",
        "thermal stress (information)",
        "above 60 % throughout: melting",
        "not solved: bulk\nboiling",
    ):
        assert words in said
    flux, power = figure.axes[1].lines[:2]
    p, q = flux.get_xydata()[1:].T
    np.testing.assert_allclose(q, (p / 30.0) ** 0.8)
    np.testing.assert_allclose(power.get_ydata(), (power.get_xdata() / 30.0) ** 0.8)
    # the feed is known where nothing was solved
    inlet = figure.axes[2].lines[0].get_xydata()
    np.testing.assert_allclose(inlet[0], [10.0, 30.0])


def test_nothing_solved_is_drawn_as_such(invented):
    boiled = tuple(
        Row(r.point, r.on_map, r.on_line, r.nominal, "choked", "why", 0.0) for r in invented.rows
    )
    empty = Envelope("none", invented.axes, invented.rules, boiled, P_CRITICAL, {})
    for figure in (figures.map_figure(empty, "envelope_nominal"), throttle_figure(empty)):
        assert "not solved: choked" in texts(figure)


# --- words -------------------------------------------------------------------------------------
def test_the_summary_says_what_limits_where(invented):
    said = "\n".join(lines(invented))
    for words in (
        "20 operating points; chamber pressure 10 to 30 bar, mixture ratio 2 to 3.5",
        "solved at 16 of 20 points: verdict at risk at 16",
        "not solved, bulk boiling, at 4 points: chamber pressure 10 bar, mixture ratio 2 to 3.5; "
        "the first: it boils.",
        "hot wall temperature: exceeded by the nominal channel at 4 points, by up to -5 %: "
        "chamber pressure 15 bar, mixture ratio 2 to 3.5",
        "coolant Mach number: exceeded by the nominal channel at 4 points, by up to -5 %: "
        "chamber pressure 15 to 30 bar, mixture ratio 2",
        "every nominal limit is met from 20 to 30 bar (67% to 100%); "
        "at 15 bar (50%): hot wall temperature -5 %",
        "coolant below its critical pressure, 46.0 bar, at inlet or outlet: at 4 points",
        "gnielinski at 4 points; jackson at 16 points",
    ):
        assert words in said
    assert "thermal stress" not in said  # for information alone


def test_what_the_shop_can_cut_hides_nothing_on_the_map(invented):
    def with_land(spare):
        land = judged("land_width", spare)
        rows = [replace(r, margins=(*r.margins, land) if r.solved else ()) for r in invented.rows]
        return replace(invented, rows=tuple(rows))

    kept, broken = (map_of(with_land(spare), ("nominal",)) for spare in (0.0, -0.1))
    assert "land_width" in kept.margins
    assert "land_width" not in kept.deciding
    assert "land_width" in broken.deciding
    said = "\n".join(lines(with_land(0.0)))
    assert "land width at" not in said
    assert "land width at" in "\n".join(lines(with_land(-0.9)))


def test_a_map_of_which_one_edge_alone_is_solved_is_drawn_without_lines(invented, tmp_path):
    # margins change sign along that edge, and no cell of the map has a line to name
    rows = []
    for one in invented.rows:
        if one.point.chamber_pressure == PRESSURES[-1]:
            rows.append(one)
        else:
            rows.append(replace(row(PRESSURES[0], one.point.mixture_ratio), point=one.point))
    found = replace(invented, rows=tuple(rows))
    index = json.loads(write(found, tmp_path)[-1].read_text())
    assert "figures_not_drawn" not in index
    figure_names = {f"figures/{name}.svg" for name in (*figures.MAPS, "throttle_line")}
    assert set(index["files"]) == {"envelope.csv"} | figure_names
    assert "Mach number at its limit" not in texts(figures.map_figure(found, "envelope_nominal"))

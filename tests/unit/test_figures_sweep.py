"""Figures of a sweep: which are drawn, what they say, and how many rows they take."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from matplotlib.text import Text

from regen.case.read import load_case
from regen.output.figures.style import render
from regen.output.figures.sweep import curves_figure, figures, front_figure
from regen.output.figures.sweep_map import Grid, chosen, land_figure, map_figure, wall_limit
from regen.output.sweep_table import DROP, LAND, WALL, SweepSummary, _is_drawn, front_of
from regen.studies.sweep.vary import grid_of
from tests.helpers.places import CASES

WIDTH, COUNT = "channels.width=0.5:0.9:9:mm", "channels.count=60:100:5"
WALLS = "liner.wall=1:2:20:mm"
DEPTH = "channels.depth=80%,120%"
LIMIT = 800.0


@pytest.fixture(scope="module")
def case():
    return load_case(CASES / "a-methane.toml")


def made_up(case, vary, unsolved=0, land=True) -> SweepSummary:
    """A sweep whose wall is hotter with wide slots and whose drop is higher with narrow ones."""
    plan = grid_of(vary, case, "nominal")
    values = plan.values(0, len(plan))
    width = values[:, 0] * 1e3
    count = values[:, 1] if values.shape[1] > 1 else np.full(len(plan), 80.0)
    ok = np.arange(len(plan)) >= unsolved
    wall = np.where(ok, 600.0 + 300.0 * width - count / 2.0, np.nan)
    drop = np.where(ok, 40e5 / (width**2 * count / 50.0), np.nan)
    margin = (LIMIT - wall) / LIMIT
    verdict = np.where(ok, np.where(margin >= 0.0, "pass", "fail"), "").astype(object)
    sample = {
        "row": np.arange(len(plan), dtype=float),
        **{key.column: values[:, n] for n, key in enumerate(plan.parameters)},
        "status": np.where(ok, "solved", "choked").astype(object),
        "verdict": verdict,
        "nominal_kept": np.where(ok, margin >= 0.0, np.nan),
        **{WALL: wall, DROP: drop, LAND: (200.0 / count - width) * 1e-3 if land else 0.0 * wall},
        "margin_hot_wall_temperature_nominal": margin,
        "margin_ligament_stress_nominal": np.full(len(plan), np.nan),  # never evaluated
    }
    front = front_of({k: v[verdict == "pass"] for k, v in sample.items()})
    return SweepSummary(
        *(plan, len(plan), Counter(sample["status"]), Counter(verdict), None, {}, {}),
        *(sample, front, frozenset()),
        int(np.count_nonzero(margin >= 0.0)),
    )


def drawn(summary):
    return {name: render(make) for name, make in figures(summary).items()}


def texts(figure):
    return " ".join(text.get_text() for text in figure.findobj(Text)).replace("\n", " ")


@pytest.mark.parametrize(
    ("vary", "names"),
    [
        ([WIDTH], {"curves", "front", "land"}),
        ([WIDTH, COUNT], {"family", "map", "front", "land"}),
        ([WIDTH, COUNT, DEPTH], {"front", "land"}),
    ],
)
def test_which_figures_are_drawn(case, vary, names):
    found = drawn(made_up(case, vary, 3))
    assert set(found) == {f"figures/sweep_{name}.svg" for name in names}
    for content in found.values():
        ElementTree.fromstring(content)


def test_without_different_lands_there_is_no_figure_of_lands(case):
    found = drawn(made_up(case, [WIDTH, COUNT], land=False))
    assert "figures/sweep_land.svg" not in found


def test_nothing_is_drawn_where_nothing_is_solved(case):
    assert drawn(made_up(case, [WIDTH], unsolved=9)) == {}


def test_one_row_solved_is_drawn(case):
    for vary, rows in (([WIDTH], 9), ([WIDTH, COUNT], 45), ([WIDTH, COUNT, DEPTH], 90)):
        assert drawn(made_up(case, vary, unsolved=rows - 1))


def test_the_walls_limit_is_that_of_the_margins(case):
    summary = made_up(case, [WIDTH, COUNT])
    assert wall_limit(summary) == pytest.approx(LIMIT)
    many = made_up(case, ["channels.width=0.5:0.9:17:mm", COUNT])
    for figure in (
        curves_figure(made_up(case, [WIDTH])),
        front_figure(summary),
        land_figure(many, Grid.of(many)),
    ):
        assert "limit 800 K" in texts(figure)


def test_a_map_says_what_it_shows(case):
    summary = made_up(case, [WIDTH, COUNT], unsolved=3)
    text = texts(map_figure(summary, Grid.of(summary)))
    for words in (
        "hot wall temperature at its limit",
        "a limit is exceeded",
        "not solved",
        "channels.width [mm]",
        "channels.count [-]",
        "coolant pressure drop [bar]",
        "neither band nor worst",
        case.design.title,
    ):
        assert words in text
    whole = texts(map_figure(made_up(case, [WIDTH, COUNT]), Grid.of(summary)))
    assert "crosses" not in whole


def test_the_grid_holds_each_row_in_its_place(case):
    summary = made_up(case, ["liner.wall=0.9,0.6,0.7:mm", "channels.count=100,60"])
    grid = Grid.of(summary)
    assert grid.x.tolist() == [0.6, 0.7, 0.9]
    assert grid.y.tolist() == [60.0, 100.0]
    # as given: rows 0 and 1 have 0.9 mm, the even rows 100 slots
    assert grid.field(summary.sample["row"]).tolist() == [[3, 5, 1], [2, 4, 0]]
    assert grid.turned().field(summary.sample["row"]).tolist() == [[3, 2], [5, 4], [1, 0]]


def test_of_many_curves_some_are_chosen_with_both_ends():
    assert chosen(3) == [0, 1, 2]
    assert len(chosen(100)) == 8
    assert (chosen(100)[0], chosen(100)[-1]) == (0, 99)


@pytest.mark.parametrize(
    ("vary", "most"),
    [
        (["channels.width=0.5:0.9:5001:mm"], 2000),
        (["channels.width=0.5:0.9:300:mm", "channels.count=40:239:200"], 100 * 100),
        (["channels.width=0.5:0.9:100:mm", "channels.count=40:139:100", WALLS], 8_040),
    ],
)
def test_a_large_sweep_is_thinned_evenly(case, vary, most):
    plan = grid_of(vary, case)
    mask = _is_drawn(plan, np.arange(len(plan), dtype=float))
    assert 0.9 * most < mask.sum() <= most
    places = np.unravel_index(np.flatnonzero(mask), plan.shape)
    for place, size in zip(places, plan.shape, strict=True):
        assert place.min() == 0
        assert place.max() == size - 1
        assert len(np.unique(place)) >= min(size, 100)


def test_a_thinned_figure_says_so(case):
    summary = made_up(case, [WIDTH, COUNT])
    assert "evenly chosen" not in texts(front_figure(summary))
    thinned = replace(summary, rows=900)
    assert "45 of the designs are drawn, evenly chosen" in texts(front_figure(thinned))

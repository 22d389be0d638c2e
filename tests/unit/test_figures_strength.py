"""The figure of the strength checks: what is drawn, what is said of what is not."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from regen.design import Life
from regen.output import report
from regen.output.figures import strength as figures_strength
from regen.result import Finding


@pytest.fixture
def checked(drawn_result):
    x = drawn_result.stations["x_m"]
    columns = {name: np.linspace(0.2, 0.9, x.size) for name in figures_strength.MARGINS}
    columns["margin_jacket_stress"] = np.full(x.size, np.nan)
    columns["margin_jacket_proof"] = np.linspace(-0.5, 0.4, x.size)
    columns |= {
        "strain_range": np.where(x < -0.05, np.nan, 0.02),
        "strain_range_low": np.full(x.size, 0.008),
        "strain_range_plastic": np.full(x.size, 0.015),
    }
    note = "between run and stop"
    found = Finding(
        "structure", "strain_range", "strain range", 2.0, "%", "strain_range", 0.0, note
    )
    return dataclasses.replace(drawn_result, checked=columns, findings=(found,))


def test_margins_and_strain_range_along_x(checked):
    figure = figures_strength.strength(checked)
    upper, lower = figure.axes
    labels = upper.get_legend_handles_labels()[1]
    assert len(labels) == len(figures_strength.MARGINS)
    assert "jacket, run: not known" in labels
    assert "jacket, proof" in labels
    assert upper.get_ylim()[0] < -50.0
    assert "[%]" in upper.get_ylabel()
    assert "[%]" in lower.get_ylabel()
    assert "[mm]" in lower.get_xlabel()


def test_each_curve_is_that_of_its_label(checked):
    """Levels of their own: 10 % for the first, 11 % for the second, and so on."""
    labels = {
        "margin_ligament_stress": "hot wall, run",
        "margin_ligament_proof": "hot wall, proof",
        "margin_land_tension": "lands, start",
        "margin_land_proof": "lands, proof",
        "margin_bond_stress": "bond, proof",
        "margin_jacket_stress": "jacket, run",
        "margin_roof_bending": "roof, run",
        "margin_jacket_proof": "jacket, proof",
    }
    levels = {name: 10.0 + n for n, name in enumerate(labels)}
    columns = dict(checked.checked)
    columns |= {name: np.full(9, level / 100.0) for name, level in levels.items()}
    upper, lower = figures_strength.strength(dataclasses.replace(checked, checked=columns)).axes
    drawn = {line.get_label(): np.ravel(line.get_ydata()) for line in upper.lines}
    for name, label in labels.items():
        assert drawn[label] == pytest.approx(levels[name])
    strains = {line.get_label(): np.ravel(line.get_ydata()) for line in lower.lines}
    assert np.nanmax(strains["conservative"]) == pytest.approx(2.0)
    assert strains["optimistic"] == pytest.approx(0.8)
    assert strains["plastic part of it"] == pytest.approx(1.5)


def test_margins_far_below_are_cut_and_the_axis_says_so(checked):
    deep = dict(checked.checked) | {"margin_jacket_proof": np.full(9, -7.0)}
    upper, _ = figures_strength.strength(dataclasses.replace(checked, checked=deep)).axes
    assert "cut at -100 %" in upper.get_ylabel()
    assert upper.get_ylim()[0] == pytest.approx(-110.0)


def test_the_report_has_the_figure_and_the_findings(checked, drawn_design, tmp_path):
    written = report.write_review(checked, drawn_design, "case = 1\n", (), tmp_path)
    names = {str(path.relative_to(tmp_path)) for path in written}
    assert {"figures/strength.svg", "strength.csv"} <= names
    page = (tmp_path / "report.html").read_text("utf-8")
    assert 'id="figure-strength"' in page
    assert 'id="structure"' in page
    assert "between run and stop" in page
    assert "2.00\u00a0%" in page


def test_no_figure_where_no_life_is_known(drawn_result):
    assert not figures_strength.life_is_known(drawn_result)
    blank = dict.fromkeys(figures_strength.LIVES, np.full(9, np.nan))
    assert not figures_strength.life_is_known(dataclasses.replace(drawn_result, checked=blank))


def test_both_lives_and_the_required_one(drawn_result, drawn_design):
    lives = np.geomspace(50.0, 900.0, 9)
    columns = dict(zip(figures_strength.LIVES, (lives, 30.0 * lives), strict=True))
    result = dataclasses.replace(drawn_result, checked=columns)
    assert figures_strength.life_is_known(result)
    design = dataclasses.replace(drawn_design, life=Life(firings=20))
    lines = {line.get_label(): line for line in figures_strength.life(result, design).axes[0].lines}
    assert np.array_equal(lines["conservative"].get_ydata(), lives)
    assert np.array_equal(lines["optimistic"].get_ydata(), 30.0 * lives)
    assert list(lines["20 firings times 4"].get_ydata()) == [80.0, 80.0]

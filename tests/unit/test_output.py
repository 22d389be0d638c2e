"""Report, figures and terminal summary on an invented result: nothing here is solved."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from io import StringIO

import numpy as np
import pytest
from rich.console import Console

from regen import design as d
from regen.output import figures, files, report, terminal, words
from regen.output.files import OutputError
from regen.result import STATION_COLUMNS, Band, Margin, Note, Result

SECTIONS = "summary case figures stations margins notes references cautions".split()


def margin(name: str, verdict: str, *values: float | None, limit: float | None = 800.0) -> Margin:
    text = f"{name} as it should be"
    return Margin(name, text, "K", limit, "max", *values, 0.0, verdict, "wall_limits")


@pytest.fixture
def design() -> d.Design:
    return d.Design(
        title="Linnet <b>&amp; drawn",
        propellants=d.Propellants("oxygen", "methane", 3.0),
        chamber=d.Chamber(30e5),
        contour=d.ContourShape(6.0, 5.0, throat_diameter=0.04, barrel_length=0.1),
        liner=d.Liner("Cu-Cr-Zr", "solution-annealed-aged", d.Profile.constant(1e-3)),
        channels=d.Channels(
            60, d.Profile((-0.1, 0.0), (1e-3, 8e-4)), d.Profile.constant(2e-3), 4e-6
        ),
        coolant=d.Coolant("methane", 120.0, mass_flow=0.5, inlet_pressure=90e5),
    )


@pytest.fixture
def result() -> Result:
    n = 12
    x = np.linspace(-0.1, 0.05, n)
    stations = {name: np.linspace(1.0, 2.0, n) for name in STATION_COLUMNS}
    stations |= {
        "x_m": x,
        "r_m": 0.02 + 0.3 * np.abs(x),
        "T_wall_hot_K": 500.0 + 200.0 * np.exp(-((x / 0.02) ** 2)),
        "wall_m": np.full(n, 1e-3),
        "channel_width_m": np.full(n, 1e-3),
        "channel_depth_m": np.full(n, 2e-3),
        "land_width_m": np.full(n, 1.2e-3),
        "p_coolant_Pa": np.linspace(70e5, 90e5, n),
    }
    hot = stations["T_wall_hot_K"]
    summary = {q.key: 1.0 for q in (*words.HEADLINE, *words.OPERATION)}
    summary |= {
        "T_wall_hot_max_K": 703.4,
        "coolant_pressure_in_Pa": 90e5,
        "coolant_pressure_out_Pa": 70e5,
        "energy_residual": 1e-16,
    }
    members = ("bartz + gnielinski + colebrook", "bartz + sieder_tate + haaland")
    return Result(
        title="Linnet <b>&amp; drawn",
        status="solved",
        verdict="marginal",
        summary=summary,
        bands={"T_wall_hot_max_K": Band(612.0, 703.4, 888.0, members, "by rule", 1)},
        worst_channel={"T_wall_hot_max_K": 791.0},
        margins=(
            margin("hot_wall_temperature", "marginal", 0.121, -0.11, 0.011),
            margin("ligament_stress", "marginal", 7.5, None, None),
            margin("burnout", "unknown", None, None, None, limit=None),
        ),
        notes=(Note("case", "a note with a < sign"),),
        provenance={
            "regen": "0",
            "python": "3",
            "packages": {"numpy": "2"},
            "case_sha256": "abc",
            "models": {"gas_side": "bartz"},
            "sources": ["bartz1957", "wall_limits"],
        },
        stations=stations,
        station_bands={"T_wall_hot_K": (hot - 90, hot + 180), "q_W_m2": (hot * 1e4, hot * 5e4)},
        contour_x=x,
        contour_r=stations["r_m"],
        worst_stations={},
        excluded={"taylor": "fitted to hydrogen"},
    )


@pytest.fixture
def page(result, design, tmp_path):
    report.write_review(result, design, "case = 1 # <script>", ["channels.count=60"], tmp_path)
    return (tmp_path / "report.html").read_text()


def test_every_section_is_there_once_and_linked(page):
    for name in SECTIONS:
        assert page.count(f'<section id="{name}"') == 1
        assert f'href="#{name}"' in page


def test_the_page_needs_nothing_beside_it(page):
    sources = re.findall(r'(?:src|href)="([^"]*)"', page)
    assert sources
    assert all(one.startswith(("#", "data:")) for one in sources)
    assert "<script" not in page
    assert "@import" not in page
    assert "@media print" in page


def test_what_the_user_wrote_is_escaped(page):
    assert "<b>" not in page
    assert "Linnet &lt;b&gt;&amp;amp; drawn" in page
    assert "case = 1 # &lt;script&gt;" in page
    assert "a note with a &lt; sign" in page


def test_the_summary_says_nominal_band_and_worst_to_ten_kelvin(page):
    row = re.search(r"peak hot-wall temperature</td>(.*?)</tr>", page, re.S)[1]
    assert re.findall(r"<td>(.*?)</td>", row) == ["K", "700", "610", "890", "790"]
    assert words.NEVER_COMPARED in page.lower()


def test_the_reasons_of_the_verdict_are_named(page):
    assert "nominal +12 %, band edge -11 %, worst channel +1 %" in page
    assert "+750 %" in page
    assert "not evaluated" in page


def test_references_are_those_used(page):
    assert 'id="ref-bartz1957"' in page
    assert 'id="ref-wall_limits"' in page
    assert "taylor1968" not in page


def test_every_caution_is_printed(page):
    for caution in words.CAUTIONS:
        assert caution in page


def test_every_station_is_a_row_and_one_is_the_hottest(page, result):
    body = page.split('<section id="stations"')[1].split("</section>")[0]
    assert body.count("<tr") == 1 + result.stations["x_m"].size
    assert body.count('class="hottest"') == 1


@pytest.mark.parametrize("name", sorted(figures.FIGURES))
def test_every_axis_names_its_unit_and_survives_missing_values(name, result, design):
    figure = figures.draw(name, result, design)
    labelled = [ax for ax in figure.axes if ax.axison]
    assert labelled
    for ax in labelled:
        for label in (ax.get_xlabel(), ax.get_ylabel()):
            assert not label or "[" in label, label
    assert any("[" in ax.get_xlabel() for ax in labelled)
    assert figures.svg(figure) == figures.svg(figures.draw(name, result, design))


def test_a_worst_channel_that_was_solved_is_drawn(result, design):
    solved = replace(result, worst_stations=result.stations)
    for name in ("temperatures", "heat_flux", "coolant"):
        texts = [
            text.get_text()
            for ax in figures.draw(name, solved, design).axes
            if ax.get_legend()
            for text in ax.get_legend().get_texts()
        ]
        assert any("worst channel" in text for text in texts), name


def test_margins_out_of_the_picture_carry_their_number(result, design):
    figure = figures.draw("margins", result, design)
    texts = [text.get_text() for text in figure.axes[0].texts]
    assert "+750 %" in texts
    # the two of ligament stress and all three of burnout
    assert texts.count("not evaluated") == 5


def test_a_second_run_leaves_the_new_set(result, design, tmp_path):
    report.write_review(result, design, "one", [], tmp_path)
    report.write_review(replace(result, title="two"), design, "two", [], tmp_path)
    assert json.loads((tmp_path / "result.json").read_text())["title"] == "two"
    assert not list(tmp_path.rglob("*.part"))


def test_a_run_killed_while_writing_leaves_the_old_set(result, tmp_path, monkeypatch):
    files.write(result, tmp_path)
    before = {path: path.read_bytes() for path in tmp_path.iterdir()}

    def full(*_):
        message = "no space left"
        raise OSError(28, message)

    monkeypatch.setattr(files.Path, "write_bytes", full)
    with pytest.raises(OutputError, match=r"no space left; give another folder with -o"):
        files.write(replace(result, title="new"), tmp_path)
    assert {path: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_the_terminal_summary_fits_eighty_columns_without_colour(result):
    stream = StringIO()
    terminal.print_summary(result, Console(file=stream, width=80))
    text = stream.getvalue()
    assert max(map(len, text.splitlines())) <= 80
    assert "\x1b" not in text
    assert "610 to 890" in text
    assert "marginal" in text


@pytest.mark.parametrize(
    ("value", "step", "said"),
    [(703.4, 10, "700"), (36.77, 0.1, "36.8"), (0.4749, 0.001, "0.475"), (-0.04, 0.1, "0.0")],
)
def test_rounding(value, step, said):
    assert words.rounded(value, step) == said

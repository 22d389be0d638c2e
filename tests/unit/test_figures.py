"""Every figure is drawn, says its units, and copes with what was not solved."""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.text import Text

from regen.output.figures import margins, section, style
from regen.output.figures.review import plates
from tests.helpers.rows import columns

ALONG_X = ("coolant", "film_coefficients", "heat_flux", "temperatures")
ALL = ("chamber", "margins", *ALONG_X)


def plate(name, result, design):
    (found,) = [one for one in plates(result, design) if one.name == name]
    return found


def draw(name, result, design) -> Figure:
    return plate(name, result, design).draw()


def said(figure: Figure) -> str:
    """All text of a figure."""
    artists = figure.findobj(lambda a: hasattr(a, "get_text"))
    return "\n".join(str(artist.get_text()) for artist in artists)


def legends(figure: Figure) -> list[str]:
    found = []
    for ax in figure.axes:
        found += ax.get_legend_handles_labels()[1]
    return found


@pytest.mark.parametrize("name", ALL)
def test_a_figure_is_drawn_with_units_on_its_axes(name, drawn_result, drawn_design):
    figure = draw(name, drawn_result, drawn_design)
    assert isinstance(figure, Figure)
    figure.draw_without_rendering()
    labels = [
        text for ax in figure.axes if ax.axison for text in (ax.get_xlabel(), ax.get_ylabel())
    ]
    assert any("[" in text for text in labels)
    for text in labels:
        assert text == "" or re.search(r"\[.+\]", text), text
    assert plate(name, drawn_result, drawn_design).caption.endswith(".")


@pytest.mark.parametrize("name", ALL)
def test_a_figure_stands_without_worst_channel_and_with_unknown_margins(
    name, drawn_result, drawn_design
):
    unknown = [
        dataclasses.replace(m, columns=columns(None, None, None), limit=None)
        for m in drawn_result.margins
    ]
    bare = dataclasses.replace(
        drawn_result, worst_stations={}, worst_channel={}, margins=tuple(unknown)
    )
    figure = draw(name, bare, drawn_design)
    figure.draw_without_rendering()
    if name != "margins":
        assert "worst channel" not in said(figure)


def test_the_same_figure_has_the_same_bytes_and_no_date(drawn_result, drawn_design):
    """Every figure is written by ``render``; whole folders are compared in tests/cli."""
    drawn = plate("temperatures", drawn_result, drawn_design)
    one, two = (style.render(drawn.draw) for _ in range(2))
    assert one == two
    assert b"<dc:date>" not in one


@pytest.mark.parametrize("name", ALONG_X)
def test_the_throat_is_marked_in_every_panel(name, drawn_result, drawn_design):
    for ax in draw(name, drawn_result, drawn_design).axes:
        assert any(np.array_equal(line.get_xdata(), [0.0, 0.0]) for line in ax.lines)


def flowing_from(end: str, result):
    """Return the result with its coolant entering at one end."""
    x = result.stations["x_m"]
    length = {"nozzle": x[-1] - x, "injector": x - x[0]}[end]
    stations = dict(result.stations) | {"passage_length_m": length}
    return dataclasses.replace(result, stations=stations)


@pytest.mark.parametrize("name", ALONG_X)
@pytest.mark.parametrize(("enters_at", "sign"), [("nozzle", -1), ("injector", 1)])
def test_an_arrow_shows_the_way_of_the_coolant(name, enters_at, sign, drawn_result, drawn_design):
    figure = draw(name, flowing_from(enters_at, drawn_result), drawn_design)
    (arrow,) = [t for t in figure.axes[0].texts if t.get_text() == "coolant"]
    assert np.sign(arrow.xy[0] - arrow.xyann[0]) == sign


@pytest.mark.parametrize(("enters_at", "inlet"), [("nozzle", 50.0), ("injector", -100.0)])
def test_coolant_enters_the_chamber_where_the_case_says(
    enters_at, inlet, drawn_result, drawn_design
):
    figure = draw("chamber", flowing_from(enters_at, drawn_result), drawn_design)
    (text,) = [t for t in figure.axes[0].texts if t.get_text() == "coolant in"]
    assert text.xy[0] == pytest.approx(inlet)


def test_the_section_gives_its_dimensions_in_millimetres(drawn_result, drawn_design):
    text = said(draw("chamber", drawn_result, drawn_design))
    for dimension in ("width 0.70", "land 0.90", "depth 2.00", "wall 0.80", "copper 0.20"):
        assert dimension in text
    assert "nickel 3.00" in text
    assert "cooled length 150 mm" in text


def test_the_wall_is_drawn_to_scale(drawn_result, drawn_design):
    figure = draw("chamber", drawn_result, drawn_design)
    whole, throat, pitch = figure.axes
    assert {ax.get_aspect() for ax in (whole, throat, pitch)} == {1.0}
    boxes = [(patch.get_width(), patch.get_height()) for patch in pitch.patches]
    slots = [box for box in boxes if box == pytest.approx((0.7, 2.0))]
    assert len(slots) == 2
    assert any(height == pytest.approx(0.2) for _, height in boxes)
    assert any(height == pytest.approx(3.0) for _, height in boxes)


def test_a_thick_jacket_is_cut_and_says_so(drawn_result, drawn_design):
    closeout = dataclasses.replace(drawn_design.closeout, jacket=20e-3)
    design = dataclasses.replace(drawn_design, closeout=closeout)
    text = said(draw("chamber", drawn_result, design))
    assert "nickel 20.00,\n  not drawn in full" in text


def test_the_limit_of_the_hot_wall_is_in_view(drawn_result, drawn_design):
    figure = draw("temperatures", drawn_result, drawn_design)
    assert "hot-gas-side limit 800 K" in legends(figure)
    low, high = figure.axes[1].get_ylim()
    assert low < 800.0 < high


def test_the_mach_limit_is_in_view(drawn_result, drawn_design):
    figure = draw("coolant", drawn_result, drawn_design)
    assert "limit 0.3" in said(figure)
    assert figure.axes[2].get_ylim()[1] > 0.3


def test_bands_are_drawn_from_their_lowest_to_their_highest(drawn_result, drawn_design):
    figure = draw("heat_flux", drawn_result, drawn_design)
    for ax, column, factor in zip(
        figure.axes, ("q_W_m2", "T_wall_hot_K"), (1e-6, 1.0), strict=True
    ):
        (band,) = ax.collections
        y = band.get_paths()[0].vertices[:, 1]
        low, high = drawn_result.station_bands[column]
        assert (y.min(), y.max()) == pytest.approx((low.min() * factor, high.max() * factor))


def test_a_margin_beyond_the_axis_ends_in_an_arrow_head_with_its_number(drawn_result, drawn_design):
    figure = draw("margins", drawn_result, drawn_design)
    heads = [line for line in figure.axes[0].lines if line.get_marker() == ">"]
    assert len(heads) == 3
    text = said(figure)
    for number in ("+556 %", "+470 %", "+526 %", "-26 %", "?"):
        assert number in text


def test_what_was_not_evaluated_has_no_marker(drawn_result, drawn_design):
    figure = draw("margins", drawn_result, drawn_design)
    drawn = [line for line in figure.axes[0].lines if line.get_marker() in ("o", "D", "s", ">")]
    runs = [(m.nominal, m.band_edge, m.worst_channel) for m in drawn_result.margins]
    evaluated = sum(value is not None for run in runs for value in run)
    in_legend = 3
    assert len(drawn) == evaluated + in_legend


def test_runs_of_margins_differ_in_grey_by_marker():
    assert len({marker for marker, _, _ in margins.LOOKS.values()}) == len(margins.LOOKS)


def test_curves_of_one_panel_differ_by_more_than_colour(drawn_result, drawn_design):
    for name in ALONG_X:
        for ax in draw(name, drawn_result, drawn_design).axes:
            lines = [line for line in ax.lines if not line.get_label().startswith("_")]
            styles = [
                (str(line.get_linestyle()), line.get_marker(), line.get_linewidth())
                for line in lines
            ]
            assert len(set(styles)) == len(styles), (name, styles)


def test_layers_of_the_wall_differ_in_grey():
    shades = sorted(
        sum(w * c for w, c in zip((0.30, 0.59, 0.11), to_rgb(colour), strict=True))
        for colour in (style.COPPER, style.PLATED, style.NICKEL, style.COOLANT)
    )
    assert min(np.diff(shades)) > 0.03


def test_the_hottest_section_is_drawn_with_its_temperatures(drawn_field, drawn_check):
    figure = section.section(drawn_field, drawn_check)
    figure.draw_without_rendering()
    text = "\n".join(artist.get_text() for artist in figure.findobj(Text))
    for part in ("T [K]", "along the pitch [mm]", "750 K", "250 K", "x = -5.0 mm"):
        assert part in text
    # 280 K between coldest and hottest: a dozen lines are 20 K apart
    assert section.step_of(drawn_field) == 20.0


@pytest.mark.parametrize("name", ALONG_X)
def test_no_curve_is_joined_between_circuits_or_passes(name, drawn_circuits, drawn_design):
    figure = draw(name, drawn_circuits, drawn_design)
    figure.draw_without_rendering()
    curves = [line for ax in figure.axes for line in ax.lines if len(line.get_xdata()) > 4]
    assert curves
    for line in curves:
        x = np.asarray(line.get_xdata())
        # one circuit of four stations, then two passes of four
        assert np.flatnonzero(np.isnan(x)).tolist() == [4, 9]
        for part in np.split(x, [4, 9]):
            assert np.all(np.diff(part[~np.isnan(part)]) > 0.0)
    assert "each circuit and pass has its own curve" in said(figure)
    assert len(set(legends(figure))) <= len(legends(figure))
    assert "manifolds, at rest" not in legends(figure)[1:] or name == "coolant"


def test_manifolds_are_marked_circuit_by_circuit(drawn_circuits, drawn_design):
    figure = draw("coolant", drawn_circuits, drawn_design)
    dots = [line for line in figure.axes[0].lines if line.get_marker() == "o"]
    ends = [sorted(np.round(line.get_xdata(), 3)) for line in dots]
    x = drawn_circuits.stations["x_m"] * 1e3
    assert ends[0] == pytest.approx([x[0], x[3]])
    assert ends[1] == pytest.approx([x[-1], x[-1]])  # down and back: both at the nozzle end
    assert legends(figure).count("manifolds, at rest") == 1


def test_the_chamber_shows_circuits_by_name_and_the_gap_between_them(drawn_circuits, drawn_design):
    figure = draw("chamber", drawn_circuits, drawn_design)
    figure.draw_without_rendering()
    whole = figure.axes[0]
    assert {"barrel", "throat"} <= {text.get_text() for text in whole.texts}
    x = drawn_circuits.stations["x_m"] * 1e3
    slots = [p.get_xy()[:, 0] for p in whole.patches if p.get_label() in ("slot", "_nolegend_")]
    for ring in slots:
        assert not (ring.min() < x[3] - 1.0 and ring.max() > x[4] + 1.0)
    assert [h.get_label() for h in whole.patches].count("slot") == 1

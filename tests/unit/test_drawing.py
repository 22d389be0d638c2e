"""Figures drawn one by one: one that fails costs itself alone, and everybody is told."""

from __future__ import annotations

import json

import pytest
from matplotlib.figure import Figure

from regen.output import sheet
from regen.output.figures import alternatives as figures_alternatives
from regen.output.figures import as_built as figures_as_built
from regen.output.figures import envelope as figures_envelope
from regen.output.figures import sizing as figures_sizing
from regen.output.figures import sweep as figures_sweep
from regen.output.figures import uncertainty as figures_uncertainty
from regen.output.figures.style import draw_each
from regen.output.files import Drawn, publish


def broken(*_, **__) -> Figure:
    message = "attempt to get argmax of an empty sequence"
    raise ValueError(message)


def test_a_figure_that_fails_costs_itself_alone_and_is_named(capsys):
    def on_saving() -> Figure:
        figure = Figure()
        figure.savefig = broken
        return figure

    def silent() -> Figure:
        raise ZeroDivisionError

    found = draw_each(
        {"figures/a.svg": broken, "figures/b.svg": Figure, "c.svg": on_saving, "d.svg": silent}
    )
    assert list(found) == ["figures/b.svg"]
    assert found["figures/b.svg"].startswith(b"<?xml")
    a, c, d = found.not_drawn
    assert a.startswith(
        "figure a could not be drawn (ValueError: attempt to get argmax of an empty"
    )
    assert c.startswith("figure c could not be drawn (ValueError")
    assert d.startswith("figure d could not be drawn (ZeroDivisionError);")
    assert capsys.readouterr().err.splitlines() == [a, c, d]


def test_a_user_who_stops_it_stops_it():
    def stopped() -> Figure:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        draw_each({"a.svg": stopped})


def test_the_index_names_what_was_not_drawn_and_says_nothing_where_all_was(tmp_path):
    for missing in ((), ("figure a could not be drawn",)):
        publish(tmp_path, {"t.csv": b"1\n"}, "i.json", lambda files: {"files": files}, missing)
        found = json.loads((tmp_path / "i.json").read_text())
        assert found.get("figures_not_drawn", []) == list(missing)
        assert list(found["files"]) == ["t.csv"]


@pytest.mark.parametrize(
    "module",
    [
        figures_envelope,
        figures_uncertainty,
        figures_sweep,
        figures_sizing,
        figures_alternatives,
        figures_as_built,
    ],
)
def test_every_command_draws_through_the_one_helper(module):
    used = set(module.drawn.__code__.co_names)
    assert "draw_each" in used
    assert "svg" not in used


def test_pages_say_what_was_not_drawn():
    parts = sheet.figures(Drawn({"figures/a.svg": b"<svg/>"}, ("figure b could <not>",)), "caption")
    assert parts[0].startswith("<figure>")
    assert "Figure b could &lt;not&gt;." in parts[1]

"""One page that needs nothing beside it, says everything, and is the same every time."""

from __future__ import annotations

import base64
import dataclasses
import hashlib
import html as entities
import json
import re
from html.parser import HTMLParser

import numpy as np
import pytest

from regen import sources
from regen.output import labels, report, review
from regen.output.figures.profiles import PROFILES
from regen.output.figures.review import plates
from regen.output.page import Picture
from regen.result import Finding, Note
from tests.helpers.html_rows import row, rows

CASE = 'title = "Linnet <b>&"\nmixture_ratio = 3.0 # </pre><script>alert(1)</script>\n'
OVERRIDES = ("channels.count=96", 'liner.wall="0.7 <mm>"')
IDS = ["summary", "case", "figures", "stations", "margins", "notes", "references", "cautions"]


class Page(HTMLParser):
    """What a browser would see: tags with attributes, text by section."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.sections: dict[str, str] = {}
        self.open: str | None = None
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.tags.append((tag, given))
        if tag == "section":
            self.open = given["id"]
            self.sections[self.open] = ""

    def handle_endtag(self, tag):
        if tag == "section":
            self.open = None

    def handle_data(self, data):
        if self.open:
            self.sections[self.open] += data.replace("\u00a0", " ")

    def rows(self, section: str) -> list[str]:
        return [line.strip() for line in self.sections[section].splitlines() if line.strip()]


@pytest.fixture
def pictures(drawn_result, drawn_design):
    """Pictures are drawn in the tests of figures; here any bytes do."""
    named = plates(drawn_result, drawn_design)
    return [Picture(one.name, one.caption, f"<svg>{one.name}</svg>".encode()) for one in named]


@pytest.fixture
def text(drawn_result, drawn_design, pictures):
    return report.html(drawn_result, drawn_design, CASE, OVERRIDES, pictures)


@pytest.fixture
def page(text):
    return Page(text)


def test_the_sections_stand_in_order_with_a_table_of_contents(page):
    assert list(page.sections) == IDS
    links = [given["href"] for tag, given in page.tags if tag == "a"]
    assert links[: len(IDS)] == [f"#{name}" for name in IDS]


def test_every_link_has_a_place_in_the_page(page):
    places = {given["id"] for _, given in page.tags if "id" in given}
    links = [given["href"] for tag, given in page.tags if tag == "a"]
    assert all(link[0] == "#" and link[1:] in places for link in links)


def test_the_page_needs_nothing_beside_it(page, text):
    assert {tag for tag, _ in page.tags} & {"script", "link", "iframe", "object", "base"} == set()
    for tag, given in page.tags:
        for name in ("src", "href", "srcset", "data", "action", "poster", "style"):
            value = given.get(name) or ""
            assert value.startswith(("#", "data:")) or not value, (tag, name, value)
    style = text[text.index("<style>") : text.index("</style>")]
    assert "url(" not in style
    assert "@import" not in style


def test_the_pictures_are_in_the_page(page, pictures):
    found = [given["src"] for tag, given in page.tags if tag == "img"]
    decoded = [base64.b64decode(src.removeprefix("data:image/svg+xml;base64,")) for src in found]
    assert decoded == [picture.svg for picture in pictures]
    for n, picture in enumerate(pictures, start=1):
        assert f"Figure {n}. {picture.caption}" in page.sections["figures"]


def test_nothing_of_the_case_becomes_markup(text, page):
    assert "<h1>Linnet &lt;b&gt;&amp;</h1>" in text
    assert "b" not in {tag for tag, _ in page.tags}
    assert CASE.strip() in page.sections["case"]
    assert "range: gnielinski is used outside its range [re] <x>" in page.sections["notes"]


def test_overrides_are_listed(page, drawn_result, drawn_design, pictures):
    for change in OVERRIDES:
        assert change in page.sections["case"]
    without = report.html(drawn_result, drawn_design, CASE, (), pictures)
    assert "command line" not in without


def test_the_summary_says_verdict_and_why(page, drawn_result):
    summary = page.sections["summary"]
    assert "at risk" in summary
    assert labels.VERDICTS["at risk"] in summary
    for why in labels.reasons(drawn_result):
        assert why in summary
    assert labels.COMPARED in summary.lower()


def test_the_summary_puts_nominal_band_and_worst_side_by_side(text):
    # 763.4 K, 0.8 and 1.3 times it, and 913 K, to 10 K
    cells = row(text, "peak hot-gas-side wall temperature, K")
    assert cells[1:] == ["760", "610 to 990", "910"]
    assert row(text, "coolant outlet pressure, bar")[1:] == ["69.4", "-", "-"]


def test_the_station_table_has_every_station_and_names_two(drawn_result):
    table = review.stations_table(drawn_result)
    assert len(table.rows) == drawn_result.stations["x_m"].size
    (named,) = table.emphasis
    assert table.rows[named][-1] == "throat, hottest"
    moved = drawn_result.stations["T_wall_hot_K"].copy()
    moved[0] = 2000.0
    stations = dict(drawn_result.stations) | {"T_wall_hot_K": moved}
    table = review.stations_table(dataclasses.replace(drawn_result, stations=stations))
    throat = int(np.argmin(np.abs(drawn_result.stations["x_m"])))
    texts = table.texts()
    assert (texts[0][-1], texts[throat][-1]) == ("hottest", "throat")
    assert texts[0][0] == "-100.0"
    assert set(table.emphasis) == {0, throat}


def test_every_margin_is_listed_with_limit_and_source(text, drawn_result):
    table = text[text.index('id="margins"') : text.index('id="notes"')]
    for margin in drawn_result.margins:
        assert margin.text in table
        assert f'href="#ref-{margin.source}"' in table
    assert "≥ 6.0 bar" in table
    assert "<td>?</td>" in table
    assert "thermal stress (information)" in table


def test_references_are_those_used_and_no_others(page, text, drawn_result):
    used = set(re.findall(r'<li id="ref-([^"]+)"', text))
    margins = {margin.source for margin in drawn_result.margins}
    assert used == {"bartz1957", "gnielinski1976"} | margins
    for key in used:
        assert sources.cite(sources.find(key)) in page.sections["references"]


def test_a_source_without_an_entry_is_no_silent_gap(drawn_result, drawn_design, pictures):
    broken = dict(drawn_result.provenance) | {"sources": ["nobody1900"]}
    result = dataclasses.replace(drawn_result, provenance=broken)
    with pytest.raises(sources.UnknownSource, match="nobody1900"):
        report.html(result, drawn_design, CASE, (), pictures)


def test_notes_name_members_and_what_was_left_out(page, drawn_result):
    notes = page.sections["notes"]
    for member in drawn_result.bands["T_wall_hot_max_K"].members:
        assert member in notes
    assert "taylor: fitted to hydrogen" in notes
    for version in ("3.11.0", "numpy 2.0.0", "abc123"):
        assert version in notes


def test_cautions_stand_at_the_end(page):
    cautions = page.sections["cautions"].lower()
    for word in ("high pressure", "cryogen", "oxidiser", "hot fire", "plating bath", "solvent"):
        assert word in cautions
    for word in ("never replace", "local codes", "hydrostatic proof", "licensed engineers"):
        assert word in cautions


def test_the_page_prints(text):
    style = text[text.index("<style>") : text.index("</style>")]
    assert "break-before: page" in style
    assert "display: table-header-group" in style
    bodies = text.count("<tbody>")
    assert bodies > 5
    assert text.count("<thead>") == bodies


def test_a_result_without_worst_channel_has_a_page(drawn_result, drawn_design, pictures):
    bare = dataclasses.replace(drawn_result, worst_channel={}, worst_stations={}, excluded={})
    page = Page(report.html(bare, drawn_design, CASE, (), pictures))
    assert list(page.sections) == IDS
    assert "Left out" not in page.sections["notes"]


def test_the_folder_is_whole_hashed_and_the_same_every_time(drawn_result, drawn_design, tmp_path):
    one, two = (
        report.write_review(drawn_result, drawn_design, CASE, OVERRIDES, tmp_path / name)
        for name in ("one", "two")
    )
    assert one[-1].name == "result.json"
    names = {str(path.relative_to(tmp_path / "one")) for path in one}
    drawn = {f"figures/{one.name}.svg" for one in plates(drawn_result, drawn_design)}
    assert names == {"report.html", "stations.csv", "result.json"} | drawn
    hashes = json.loads(one[-1].read_text())["files"]
    assert set(hashes) == names - {"result.json"}
    for first, second in zip(one, two, strict=True):
        content = first.read_bytes()
        assert content == second.read_bytes()
        name = str(first.relative_to(tmp_path / "one"))
        if name in hashes:
            assert hashlib.sha256(content).hexdigest() == hashes[name]
    page = (tmp_path / "one" / "report.html").read_text("utf-8")
    assert entities.escape(CASE.splitlines()[1]) in page


def test_the_wall_check_stands_between_margins_and_notes_if_there_is_one(
    page, drawn_result, drawn_design, drawn_check, drawn_field, pictures
):
    assert "wall-check" not in page.sections
    checked = dataclasses.replace(
        drawn_result,
        section_checks=(drawn_check,),
        section_field=drawn_field,
        notes=(*drawn_result.notes, Note("wall check", "all is <well>")),
    )
    section = Picture("wall_check", "a caption", b"<svg>section</svg>")
    with_section = [*pictures, section]
    found = Page(report.html(checked, drawn_design, CASE, OVERRIDES, with_section))
    assert list(found.sections) == [*IDS[:5], "wall-check", *IDS[5:]]
    text = found.sections["wall-check"]
    for part in ("755", "750", "+5.0", "+1.0", "All is <well>.", "<one> is held"):
        assert part in text
    assert f"Figure {len(with_section)}. a caption" in text
    assert "a caption" not in found.sections["figures"]
    found = Page(report.html(checked, drawn_design, CASE, OVERRIDES, pictures))
    assert "755" in found.sections["wall-check"]
    assert "Figure" not in found.sections["wall-check"]


def test_a_review_with_a_wall_check_has_its_figure(
    drawn_result, drawn_design, drawn_check, drawn_field, tmp_path
):
    checked = dataclasses.replace(
        drawn_result, section_checks=(drawn_check,), section_field=drawn_field
    )
    written = report.write_review(checked, drawn_design, CASE, OVERRIDES, tmp_path)
    assert tmp_path / "figures" / "wall_check.svg" in written
    found = json.loads((tmp_path / "result.json").read_text())["section_checks"]
    assert found[0]["T_wall_hot_fe_K"] == 750.0
    assert found[0]["T_difference_K"] == 5.0


def test_circuits_have_a_table_and_a_column(drawn_circuits, drawn_design, pictures, text):
    several = report.html(drawn_circuits, drawn_design, CASE, OVERRIDES, pictures)
    assert row(several, "barrel")[1:3] == ["-100 to -44", "0.100"]
    assert "P the pass (1 down, 2 back)" in several
    assert "<th>C</th><th>P</th>" in several
    assert ["circuit"] not in [cells[:1] for cells in rows(text)]
    assert "<th>C</th>" not in text


def test_the_optimistic_life_is_printed_smaller(drawn_result, drawn_design, pictures):
    lives = tuple(
        Finding("life", f"life_{name}", f"{name} life", value, "firings", "manson1965")
        for name, value in (("conservative", 23.4), ("optimistic", 1470.0))
    )
    result = dataclasses.replace(drawn_result, findings=lives)
    text = report.html(result, drawn_design, CASE, OVERRIDES, pictures)
    assert '<tr><td class="text">conservative life' in text
    assert '<tr class="small"><td class="text">optimistic life' in text


def test_a_review_without_one_figure_is_whole_and_says_so(
    drawn_result, drawn_design, tmp_path, monkeypatch, capsys
):
    def broken(_):
        message = "attempt to get argmax of an empty sequence"
        raise ValueError(message)

    monkeypatch.setitem(PROFILES, "temperatures", broken)
    written = report.write_review(drawn_result, drawn_design, CASE, (), tmp_path)
    assert not (tmp_path / "figures" / "temperatures.svg").exists()
    assert (tmp_path / "figures" / "heat_flux.svg").exists()
    found = json.loads(written[-1].read_text())
    (note,) = [note for note in found["notes"] if note["code"] == "figure"]
    assert note["text"].startswith("figure temperatures could not be drawn")
    assert found["figures_not_drawn"] == [note["text"]]
    assert note["text"] in capsys.readouterr().err
    assert "figure temperatures could not be drawn" in (tmp_path / "report.html").read_text()

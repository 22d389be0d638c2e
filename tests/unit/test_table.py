"""One table: CSV in SI, the same cells as text for a terminal and a page."""

from __future__ import annotations

import csv
import io
import math

import numpy as np
from markupsafe import Markup
from rich.console import Console

from regen.output.table import Column, Table, text_column
from tests.helpers.html_rows import rows

COLUMNS = (
    text_column("name", "route"),
    Column("T_wall_hot_max_K", "hot wall", decimals=0),
    Column("drop_Pa", "drop", "bar"),
    Column("life", unit="firings"),
    text_column("verdict", "verdict"),
)
ROWS = (
    ("<a> & b", 812.34, 32.14e5, "12 (30)", "pass"),
    {"name": "c", "T_wall_hot_max_K": None, "drop_Pa": math.nan, "life": 3, "verdict": "fail"},
)
TABLE = Table(COLUMNS, ROWS, title="Routes", emphasis={1: "marked"})


def test_csv_has_keys_si_values_and_empty_cells():
    text = TABLE.csv()
    assert list(csv.reader(io.StringIO(text))) == [
        ["name", "T_wall_hot_max_K", "drop_Pa", "life", "verdict"],
        ["<a> & b", "812.34", "3214000", "12 (30)", "pass"],
        ["c", "", "", "3", "fail"],
    ]
    cells = Table.of_rows([{"a": [1, 2], "b": {"k": True}}, {"a": True, "c": 1 / 3}])
    assert cells.csv() == 'a,b,c\n1; 2,"{""k"": true}",\nyes,,0.333333333\n'
    arrays = {"x_m": np.array([0.5, 1.0]), "T_K": np.array([math.nan, 2e9])}
    assert Table.of_arrays(arrays).csv() == "x_m,T_K\n0.5,\n1,2e+09\n"


def test_lines_are_aligned_with_units_below_the_headings():
    assert TABLE.lines() == [
        "Routes:",
        "route    hot wall  drop     life  verdict",
        "                K   bar  firings",
        "<a> & b       812  32.1  12 (30)  pass",
        "c               -     -        3  fail",
    ]


def test_a_terminal_folds_headings_and_texts_but_never_numbers():
    out = io.StringIO()
    columns = (text_column("a", "a"), Column("b", "a heading of many words"))
    Console(file=out, width=26).print(Table(columns, [("text of words", "1234567 or more")]).rich())
    text = out.getvalue()
    assert "1234567 or more" in text
    assert "…" not in text
    assert max(map(len, text.splitlines())) <= 26


def test_verdicts_are_coloured_on_a_terminal():
    out = io.StringIO()
    Console(file=out, force_terminal=True, color_system="standard").print(TABLE.rich())
    assert "\x1b[32mpass" in out.getvalue()


def test_html_escapes_what_is_no_markup_and_binds_per_cent_signs():
    page = str(TABLE.__html__())
    assert rows(page) == [
        ["route", "hot wall, K", "drop, bar", "life, firings", "verdict"],
        ["<a> & b", "812", "32.1", "12 (30)", "pass"],
        ["c", "-", "-", "3", "fail"],
    ]
    assert "<a>" not in page
    assert '<tr class="marked"><td class="text">c' in page
    cells = Table((Column("a"),), [(Markup("<b>x</b>"),), ("+5 %",)])
    assert "<td><b>x</b></td>" in str(cells.__html__())
    assert "+5\u00a0%" in str(cells.__html__())

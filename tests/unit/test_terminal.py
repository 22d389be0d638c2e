"""The summary at 80 columns, through a pipe and with a title that looks like markup."""

from __future__ import annotations

import dataclasses
import io

import pytest
from rich.console import Console

from regen.output.labels import COMPARED
from regen.output.review import print_summary
from regen.result import Finding


def printed(result, **options) -> str:
    out = io.StringIO()
    print_summary(result, Console(file=out, width=80, **options))
    return out.getvalue()


def row(text: str, start: str) -> list[str]:
    (found,) = [line for line in text.splitlines() if line.startswith(start)]
    return found.removeprefix(start).split()


def test_quantities_stand_side_by_side(drawn_result):
    text = printed(drawn_result)
    assert row(text, "peak hot-gas-side wall temperature, K") == ["760", "610", "to", "990", "910"]
    assert row(text, "peak heat flux, MW/m2") == ["36.8", "29.5", "to", "47.9", "39.9"]
    assert row(text, "coolant outlet pressure, bar") == ["69.4", "-", "-"]


def test_margins_have_their_verdicts(drawn_result):
    text = printed(drawn_result)
    expected = ["<=", "800", "K", "+5", "%", "-26", "%", "-14", "%", "at", "risk"]
    assert row(text, "hot wall temperature") == expected
    assert row(text, "ligament stress") == ["<=", "204.0", "MPa", "+96", "%", "?", "?", "open"]
    assert "?: not known" in text
    assert "(1 at risk, 1 open, 2 pass of 4 limits)" in " ".join(text.split())
    assert "thermal stress (information)" in text


def test_it_fits_eighty_columns_and_a_pipe_has_no_colours(drawn_result):
    text = printed(drawn_result)
    assert max(len(line) for line in text.splitlines()) <= 80
    assert "\x1b" not in text


def test_a_terminal_has_colours(drawn_result):
    assert "\x1b[" in printed(drawn_result, force_terminal=True, color_system="standard")


@pytest.mark.parametrize("title", ["Linnet [/]", "[red]Linnet", "[b]"])
def test_a_title_in_brackets_is_printed_as_it_is(drawn_result, title):
    assert printed(dataclasses.replace(drawn_result, title=title)).startswith(f"{title}: at risk")


def test_notes_are_printed_as_they_are(drawn_result):
    assert "note: range: gnielinski is used outside its range [re] <x>" in printed(drawn_result)


def test_it_says_what_was_compared_with_measurement(drawn_result):
    text = " ".join(printed(drawn_result).split())
    assert COMPARED in text
    assert "never with a whole chamber" in text


def test_the_wall_check_is_printed_if_there_is_one(drawn_result, drawn_check):
    assert "finite elements" not in printed(drawn_result)
    text = printed(dataclasses.replace(drawn_result, section_checks=(drawn_check,)))
    assert row(text, "throat") == ["-5.0", "755", "750", "+5.0", "+1.0", "+1.0", "0.05"]


def test_several_circuits_are_a_table_and_one_is_none(drawn_result, drawn_circuits):
    text = printed(drawn_circuits)
    expected = ["-100", "to", "-44", "0.100", "25", "40.0", "30", "2.0", "700", "0"]
    assert row(text, "barrel") == expected
    assert row(text, "throat")[3:5] == ["0.300", "75"]
    assert max(map(len, text.splitlines())) <= 80
    one = dataclasses.replace(drawn_result, circuits=drawn_circuits.circuits[:1])
    assert "barrel" not in printed(one)


def test_the_optimistic_life_stands_below_the_one_that_judges_and_smaller(drawn_result):
    lives = tuple(
        Finding("life", f"life_{name}", f"{name} life", value, "firings", "manson1965")
        for name, value in (("conservative", 23.4), ("optimistic", 1470.0))
    )
    result = dataclasses.replace(drawn_result, findings=lives)
    assert row(printed(result), "conservative life") == ["23.4", "firings"]
    assert row(printed(result), "  optimistic life") == ["1470", "firings"]
    coloured = printed(result, force_terminal=True, color_system="standard")
    (line,) = [line for line in coloured.splitlines() if "optimistic life" in line]
    assert line.startswith("\x1b[2m")  # dim

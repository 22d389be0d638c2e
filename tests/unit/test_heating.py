"""Planned heatings: how they are read, and which of them a condition covers."""

from dataclasses import replace

import pytest

from regen import design as d
from regen.errors import MissingProperty
from regen.metals import heating
from regen.metals import selection as metals
from regen.metals.alloys import alloys

AGED = ("Cu-Cr-Zr", "solution-annealed-aged")
NO_STRENGTH = ("yield", "uts", "compressive_yield", "elongation", "reduction_of_area")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("braze at 935 degC", ("braze", 1208.15, None)),
        ("HIP at 950 degC for 3 h", ("HIP", 1223.15, 10800.0)),
        ("hip at 1223.15 K for 180 min", ("HIP", 1223.15, 10800.0)),
        ("  stress  relief at 752 degF for 30 s ", ("stress relief", 673.15, 30.0)),
        ("bake at 205degC for 8h", ("bake", 478.15, 28800.0)),
        ("bake at 205 \N{DEGREE SIGN}C", ("bake", 478.15, None)),
    ],
)
def test_reads_a_heating(text, expected):
    read = heating.read(text)
    assert read.word == expected[0]
    assert read.temperature == pytest.approx(expected[1], abs=1e-9)
    assert read.time == (expected[2] and pytest.approx(expected[2]))


def test_a_heating_reads_back_as_it_is_written():
    for text in ("braze at 935 degC", "HIP at 950 degC for 3 h", "age at 450 degC for 20 min"):
        assert str(heating.read(text)) == text


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "not of the form"),
        ("braze", "not of the form"),
        ("braze 935 degC", "not of the form"),
        ("braze at 935", "not of the form"),
        ("braze at -10 degC", "not of the form"),
        ("braze at 935 degC in vacuum", "not of the form"),
        ("solder at 935 degC", 'unknown heating "solder"'),
        ("braze at 935 C", 'unknown unit of temperature "C"'),
        ("braze at 10 degC", "283 K is not a plausible"),
        ("braze at 3000 K", "3000 K is not a plausible"),
        ("age at 450 degC for 3 hours", 'unknown unit of time "hours"'),
        ("age at 450 degC for 0 h", "0 h is not a plausible"),
        ("age at 450 degC for 5000 h", "5000 h is not a plausible"),
    ],
)
def test_refuses_what_is_no_heating(text, said):
    with pytest.raises(heating.HeatingError, match=said):
        heating.read(text)


def planned(name, condition, *texts):
    return metals.uncovered(alloys()[name], condition, tuple(map(heating.read, texts)))


@pytest.mark.parametrize(
    ("metal", "texts"),
    [
        # over-ages above 500 degC
        (AGED, ("age at 460 degC for 3 h",)),
        (AGED, ("age at 500 degC",)),
        # nickel softens above 400 degC
        (("nickel-electroformed", "sulfamate"), ("bake at 205 degC for 24 h",)),
        # soft already
        (("Cu-OFHC", "annealed"), ("braze at 935 degC", "HIP at 950 degC for 3 h")),
        (("316L", "annealed-minimum"), ("HIP at 950 degC for 3 h",)),
        # the state after just this
        (("Cu-Cr-Zr", "brazed-935-degC"), ("braze at 935 degC",)),
        (("Cu-Cr-Nb-8-4", "brazed-935-degC"), ("braze at 935 degC",)),
        (("Cu-Cr-Nb-8-4", "lpbf-900-degC-5-h"), ("HIP at 900 degC for 5 h",)),
        (AGED, ()),
    ],
)
def test_covered(metal, texts):
    assert planned(*metal, *texts) == ""


@pytest.mark.parametrize(
    ("metal", "texts", "said"),
    [
        (AGED, ("braze at 935 degC",), '"braze at 935 degC" is planned, and this condition hold'),
        # the condition that covers it is named
        (AGED, ("braze at 935 degC",), '; condition "brazed-935-degC" is the state after it$'),
        (AGED, ("braze at 900 degC",), "second-hand.$"),
        # no time was found with its yields
        (("Cu-Cr-Zr", "brazed-935-degC"), ("braze at 935 degC for 10 min",), "is the state after"),
        (("Cu-Cr-Zr", "brazed-935-degC"), ("braze at 935 degC",) * 2, "is the state after"),
        (AGED, ("age at 501 degC",), "holds to 773 K .nasa_tm_2007_214663, second-hand"),
        (AGED, ("bake at 200 degC", "braze at 935 degC"), "braze at 935"),
        (("nickel-electroformed", "watts"), ("bake at 401 degC",), "holds to 673 K .cho2001, seen"),
        (("Cu-Cr-Zr", "hard-drawn"), ("bake at 100 degC",), "not known to withstand any"),
        (("Cu-Cr-Nb-8-4", "lpbf-900-degC-5-h"), ("HIP at 950 degC for 5 h",), "is the state after"),
        (("Cu-Cr-Nb-8-4", "lpbf-900-degC-5-h"), ("HIP at 900 degC for 6 h",), "is the state after"),
        (("Cu-Cr-Nb-8-4", "lpbf-900-degC-5-h"), ("HIP at 900 degC",), "is the state after"),
        # twice what it has had once
        (("Cu-Cr-Nb-8-4", "lpbf-450-degC-3-h"), ("age at 450 degC for 3 h",) * 2, "after"),
    ],
)
def test_not_covered(metal, texts, said):
    import re

    assert re.search(said, planned(*metal, *texts))


def heated(design, *texts, **strengths):
    process = tuple(map(heating.read, texts))
    return replace(design, liner=replace(design.liner, process=process, **strengths))


def test_what_is_not_covered_has_no_strength_but_conducts(drawn_design):
    metal = metals.liner(heated(drawn_design, "braze at 935 degC"))
    for name in NO_STRENGTH:
        with pytest.raises(MissingProperty, match=f"{name} of Cu-Cr-Zr.*braze at 935 degC"):
            metal.value(name, 500.0)
    for ask in (metal.fatigue_tests, metal.creep):
        with pytest.raises(MissingProperty, match="braze at 935 degC"):
            ask()
    cold = metals.liner(drawn_design)
    for name in ("thermal_conductivity", "youngs_modulus", "thermal_expansion_instantaneous"):
        assert metal.value(name, 500.0).value == cold.value(name, 500.0).value
    with pytest.raises(MissingProperty, match=r"give liner\.yield_strength, measured after it"):
        metal.value("yield", 500.0)
    with pytest.raises(MissingProperty, match=r"give liner\.ultimate_strength, measured after it"):
        metal.value("uts", 500.0)


def test_the_jacket_has_keys_of_its_own(drawn_design):
    process = (heating.read("braze at 935 degC"),)
    closeout = replace(drawn_design.closeout, jacket_process=process)
    metal = metals.jacket(replace(drawn_design, closeout=closeout))
    with pytest.raises(MissingProperty, match=r"give closeout\.jacket_yield_strength"):
        metal.value("yield", 300.0)
    assert metals.liner(replace(drawn_design, closeout=closeout)).value("yield", 300.0)


def test_strength_of_the_case_replaces_the_table(drawn_design):
    given = d.Allowables((293.0, 773.0), (90e6, 60e6))
    for design in (drawn_design, heated(drawn_design, "braze at 935 degC")):
        metal = metals.liner(replace(design, liner=replace(design.liner, yield_strength=given)))
        # half way between the pairs, and held below the first
        assert metal.value("yield", [533.0, 100.0]).value == pytest.approx([75e6, 90e6])
        assert set(metal.table("yield").sources) == {"given_in_case"}
        assert "is given for 293 to 773 K" in metal.value("yield", 100.0).note
        with pytest.raises(ValueError, match=r"at 774 K.*add a pair to liner\.yield_strength"):
            metal.value("yield", 774.0)


def test_the_note_says_what_stays_and_what_to_give(drawn_design):
    assert metals.heating_notes(drawn_design) == ()
    (lost,) = metals.heating_notes(heated(drawn_design, "braze at 935 degC"))
    assert "after it are not known; give liner.yield_strength and liner.ultimate_strength" in lost
    assert "conductivity, heat capacity, modulus and expansion are taken as unchanged" in lost
    (kept,) = metals.heating_notes(heated(drawn_design, "age at 450 degC for 3 h"))
    assert "holds to 773 K" in kept
    given = d.Allowables((293.0,), (90e6,))
    (only,) = metals.heating_notes(heated(drawn_design, "braze at 935 degC", yield_strength=given))
    assert "the only strength known after it is what the case gives, liner.yield_strength" in only

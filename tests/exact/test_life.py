"""Life of a hot wall whose every number is chosen, worked by hand beside it."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from regen import design as d
from regen.checks.life import assess as life
from regen.checks.registry import rules
from regen.checks.runs import Run, Solved
from regen.errors import RangeError
from regen.metals import selection as metals
from regen.result import STATION_COLUMNS

HAND = 1e-6
"""The jacket is a few 1e-4 K above the coolant; all else is rounding."""

STANZAS = """
["Wall metal"]
name = "Chosen"
composition = "Cu"
form = "bar"
density = { value = 9000, unit = "kg/m3", source = "chosen", mark = "seen" }
solidus = { value = 1300, unit = "K", source = "chosen", mark = "seen" }
[ "Wall metal".conditions ]
made = "as chosen"

["Shell metal"]
name = "Chosen too"
composition = "Ni"
form = "plate"
density = { value = 9000, unit = "kg/m3", source = "chosen", mark = "seen" }
["Shell metal".conditions]
made = "as chosen"
"""
HEAD = "condition,property,T_K,value,unit,source,mark\n"


def rows(name, low, high, unit, values):
    """Return two rows of a property, from ``low`` to ``high`` kelvin."""
    ends = zip((low, high), values, strict=True)
    return "".join(f"made,{name},{T},{value},{unit},chosen,seen\n" for T, value in ends)


WALL = HEAD + "".join(
    [
        rows("thermal_conductivity", 50, 1200, "W/m/K", (300, 300)),
        rows("thermal_expansion_instantaneous", 50, 1200, "1e-6/K", (17, 17)),
        rows("youngs_modulus", 50, 1200, "GPa", (100, 100)),
        rows("yield", 50, 1200, "MPa", (100, 100)),
        rows("uts", 50, 900, "MPa", (200, 200)),
    ]
)
SHELL = HEAD + "".join(
    [
        rows("thermal_conductivity", 50, 1200, "W/m/K", (50, 50)),
        rows("thermal_expansion_instantaneous", 50, 1200, "1e-6/K", (13, 13)),
    ]
)
# at 800 K and 100 MPa, the wall's yield, 100 h to rupture
CREEP = "condition,T_K,stress_MPa,time_h,source,mark\nmade,800,100,100,chosen,seen\n"
CREEP += "made,800,60,1000,chosen,seen\n"
TESTS = "condition,T_K,strain_range_percent,cycles,source,mark\n"
TESTS += "made,790,1,1000,chosen,seen\nmade,790,3,100,chosen,seen\n"

T_HOT = (800.0, 500.0)
"""Two stations: one in the creep range (above 650 K), one below it."""


def chosen(*, tables=(), **given):
    """Return a design whose metals are chosen, with keys of [life]."""
    files = (("Wall metal.csv", WALL), ("Shell metal.csv", SHELL), *tables)
    return d.Design(
        title="chosen",
        propellants=d.Propellants("oxygen", "methane", 3.0),
        chamber=d.Chamber(pressure=30e5),
        contour=d.ContourShape(
            contraction_ratio=6.0, area_ratio=5.0, throat_diameter=0.04, barrel_length=0.1
        ),
        liner=d.Liner("Wall metal", "made", d.Profile.constant(0.8e-3)),
        channels=d.Channels(80, d.Profile.constant(1e-3), d.Profile.constant(2e-3), roughness=5e-6),
        coolant=d.Coolant("water", 300.0, mass_flow=0.48, inlet_pressure=90e5),
        closeout=d.Closeout(
            0.0, 3e-3, jacket_alloy="Shell metal", jacket_condition="made", route="brazed"
        ),
        life=d.Life(**given),
        materials=(d.MaterialFile("own.toml", STANZAS, files),),
    )


def run(T_hot=T_HOT, **more):
    """Return stations at rest but for the hot wall: slots and lands 1 mm, coolant at 300 K."""
    T = np.array(T_hot)
    columns = {name: np.full(T.shape, 1.0) for name in STATION_COLUMNS}
    columns |= {
        "x_m": np.linspace(-0.01, 0.0, T.shape[-1]) + np.zeros(T.shape),
        "r_m": np.full(T.shape, 0.02),
        "T_wall_hot_K": T,
        "T_wall_cold_K": T,
        "T_coolant_K": np.full(T.shape, 300.0),
        "h_coolant_W_m2K": np.full(T.shape, 1e7),  # the lands' tips, and the jacket, at 300 K
        "p_coolant_Pa": np.full(T.shape, 20e5),
        "p_gas_Pa": np.full(T.shape, 20e5),
        "channel_width_m": np.full(T.shape, 1e-3),
        "land_width_m": np.full(T.shape, 1e-3),
        "channel_depth_m": np.full(T.shape, 2e-3),
        "wall_m": np.full(T.shape, 0.8e-3),
    }
    return Run(columns | {n: np.full(T.shape, v) for n, v in more.items()}, {})


def ranges(T):
    """Return conservative and optimistic strain range of the chosen wall by hand.

    Liner less jacket is 17e-6 (T - 300); yield over modulus is 1e-3 at either end. Held both ways
    2 de; its plastic part over slots as wide as lands, c = 2, times sqrt((4 + 2 + 1)/3).
    """
    de = 17e-6 * (T - 300.0)
    plastic = math.sqrt(7.0 / 3.0) * (2.0 * de - 2e-3)
    return 2e-3 + plastic, 2.0 / math.sqrt(3.0) * de


def universal(de, D):
    """Return cycles of 200 MPa over 100 GPa and true ductility D, by halving."""
    low, high = 1e-9, 1e12
    for _ in range(300):
        N = math.sqrt(low * high)
        low, high = (N, high) if 0.007 * N**-0.12 + D**0.6 * N**-0.6 > de else (low, N)
    return N


def rule_of(design, **more):
    alloy = replace(metals.liner(design), **more)
    return next(iter(rules(Solved(design, alloy, None, run()), "life")), None)


def judged(design, one):
    """Return the least margin of one run over the stations that are asked, and what is said."""
    compared = rule_of(design).compare(one)
    margins = np.where(compared.asked, compared.value / compared.limit - 1.0, np.inf)
    at = int(np.argmin(margins))
    found = {"limit": compared.limit[at], "x_m": one.stations["x_m"][at], "note": compared.note}
    return SimpleNamespace(nominal=margins[at], **found)


def found(design, one=None):
    one = one or run()
    return life.findings(Solved(design, metals.liner(design), None, one))


def values(told):
    return {f.name: f.value for f in told.findings}


def test_a_generic_life_with_creep_by_hand():
    design = chosen(
        ductility=0.6, firings=8, firing_duration=60.0, tables=[("Wall metal.creep.csv", CREEP)]
    )
    told = found(design)
    D = math.log(1.0 / 0.4)
    hot, cold = (universal(ranges(T)[0], D) for T in T_HOT)
    # a tenth above 650 K, half the solidus; 60 s of 100 h a firing
    conservative = 1.0 / (10.0 / hot + 60.0 / 360e3)
    along = told.columns["life_conservative_firings"]
    assert along == pytest.approx([conservative, cold], rel=HAND)
    optimistic = [universal(ranges(T)[1], D) for T in T_HOT]
    assert told.columns["life_optimistic_firings"] == pytest.approx(optimistic, rel=HAND)
    said = values(told)
    assert said["life_conservative"] == pytest.approx(conservative, rel=HAND)
    assert said["life_optimistic"] == pytest.approx(optimistic[0], rel=HAND)
    assert said["creep_damage"] == pytest.approx(60.0 / 360e3, rel=HAND)
    margin = judged(design, run())
    assert margin.limit == 32.0
    assert margin.nominal == pytest.approx(conservative / 32.0 - 1.0, rel=HAND)
    assert margin.x_m == -0.01
    assert "a tenth of the law" in margin.note


def test_the_longer_it_burns_the_more_creep_governs():
    tables = [("Wall metal.creep.csv", CREEP)]
    short, long = (
        found(chosen(ductility=0.6, firing_duration=time, tables=tables))
        for time in (60.0, 100 * 3600.0)
    )
    # a firing as long as its time to rupture: less than one of them
    assert values(long)["life_conservative"] < 1.0 < values(short)["life_conservative"]
    assert "creep governs" in long.findings[0].note
    assert "fatigue in the creep range" in short.findings[0].note


def test_tests_of_the_alloy_come_before_a_generic_law():
    told = found(chosen(ductility=0.6, tables=[("Wall metal.fatigue.csv", TESTS)]))
    # through (1 %, 1000) and (3 %, 100): N = 1000 (de/1 %)^(-1/log10 3)
    de, low = ranges(800.0)
    exponent = -1.0 / math.log10(3.0)
    by_tests = 1000.0 * (100.0 * de) ** exponent
    assert values(told)["life_conservative"] == pytest.approx(0.1 * by_tests, rel=HAND)
    assert "2 tests of Wall metal, made at 790 K" in told.findings[0].note
    assert "extrapolated" not in told.findings[0].note
    assert "life_optimistic_modified" not in values(told)
    optimistic = next(f for f in told.findings if f.name == "life_optimistic")
    assert optimistic.value == pytest.approx(1000.0 * (100.0 * low) ** exponent, rel=HAND)
    assert "0.98 % is outside" in optimistic.note


def test_tests_at_another_temperature_are_flagged():
    told = found(chosen(tables=[("Wall metal.fatigue.csv", TESTS)]), run((850.0, 500.0)))
    assert "extrapolated: the metal is at 850 K, hotter than the tests" in told.findings[0].note


def test_the_hotter_of_two_tests_serves_in_between():
    # at 600 K ten times the cycles of 790 K: 700 K takes the hotter ones, 610 K the colder's
    # neighbour above it, 590 K the colder ones
    both = TESTS + "made,600,1,10000,chosen,seen\nmade,600,3,1000,chosen,seen\n"
    exponent = -1.0 / math.log10(3.0)
    for T, at_one_percent in ((700.0, 1e3), (610.0, 1e3), (590.0, 1e4)):
        told = found(chosen(tables=[("Wall metal.fatigue.csv", both)]), run((T, T)))
        expected = at_one_percent * (100.0 * ranges(T)[1]) ** exponent
        assert told.columns["life_optimistic_firings"][0] == pytest.approx(expected, rel=HAND)


def test_copper_silver_zirconium_has_tests_and_no_expansion():
    one = chosen()
    design = replace(one, liner=d.Liner("Cu-Ag-Zr", "solution-annealed-aged", one.liner.wall))
    told = found(design)
    assert [f.value for f in told.findings] == [None]
    assert "thermal_expansion" in told.findings[0].note


def test_a_law_of_the_case_comes_before_all_else():
    design = chosen(
        fatigue_strength=400e6,
        fatigue_strength_exponent=-0.1,
        fatigue_ductility=0.4,
        fatigue_ductility_exponent=-0.6,
        fatigue_temperature=700.0,
        tables=[("Wall metal.fatigue.csv", TESTS)],
    )
    N = 10.0 * values(found(design))["life_conservative"]
    half = 0.004 * (2 * N) ** -0.1 + 0.4 * (2 * N) ** -0.6
    assert 2.0 * half == pytest.approx(ranges(800.0)[0], rel=HAND)
    assert "tested at 700 K; extrapolated" in found(design).findings[0].note


def test_a_firing_more_than_it_can_live_fails():
    # the generic life is some 90 firings: 30 of them four times over are too many
    assert judged(chosen(ductility=0.6, firings=30), run()).nominal < 0.0
    assert judged(chosen(ductility=0.6, firings=10), run()).nominal > 0.0


def test_without_firings_there_is_no_limit():
    design = chosen(ductility=0.6)
    assert rule_of(design) is None


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({}, "reduction of area is missing"),
        ({"tables": [("Wall metal.fatigue.csv", TESTS.replace("made,790,3", "made,790,1"))]},
         "reduction of area is missing"),
    ],
)  # fmt: skip
def test_what_is_missing_is_named_and_no_number_stands_in(given, said):
    design = chosen(firings=10, **given)
    told = found(design)
    assert [f.value for f in told.findings] == [None]
    assert told.columns == {}
    assert said in told.findings[0].note
    assert "life.ductility" in told.findings[0].note
    with pytest.raises(RangeError, match=said):
        judged(design, run())


def test_a_table_that_ends_before_the_wall_is_named():
    with pytest.raises(RangeError, match="uts of Wall metal, made at 950 K"):
        judged(chosen(ductility=0.6, firings=1), run((950.0, 500.0)))


def test_without_a_solidus_there_is_no_conservative_life():
    one = chosen(ductility=0.6, firings=1)
    text = STANZAS.replace(
        'solidus = { value = 1300, unit = "K", source = "chosen", mark = "seen" }\n', ""
    )
    design = replace(one, materials=(replace(one.materials[0], stanzas=text),))
    assert values(found(design))["life_conservative"] is None
    assert values(found(design))["life_optimistic"] > 0.0
    with pytest.raises(RangeError, match="no solidus"):
        judged(design, run())


def test_a_chilled_state_is_held_at_the_cold_end_and_said():
    # the coolant enters at 20 K, at the second station; every table begins at 50 K. At start the
    # wall contracts on at its last coefficient, the shell no further than to 50 K: 17e-6 x 280
    # less 13e-6 x 250 above the growth of 17e-6 x 500 as it runs
    one = run((800.0, 290.0), T_coolant_K=[300.0, 20.0], passage_length_m=[1.0, 0.0])
    de = 17e-6 * 500.0 + 17e-6 * 280.0 - 13e-6 * 250.0
    total = 2e-3 + math.sqrt(7.0 / 3.0) * (2.0 * de - 2e-3)
    by_hand = 0.1 * universal(total, math.log(1.0 / 0.4))
    design = chosen(ductility=0.6, firings=1)
    told = found(design, one).findings[0]
    assert told.value == pytest.approx(by_hand, rel=HAND)
    margin = judged(design, one)
    assert margin.nominal == pytest.approx(by_hand / 4.0 - 1.0, rel=HAND)
    for note in (told.note, margin.note):
        assert "at most this: expansion of Wall metal below 50 K" in note
    assert judged(chosen(ductility=0.6, firings=100), one).nominal < 0.0


def test_the_life_of_the_part_is_the_least_of_all_stations_or_not_known():
    # the strength table ends at 900 K, short of the first station; the other one's life is known
    one = run((950.0, 500.0))
    cold = universal(ranges(500.0)[0], math.log(1.0 / 0.4))
    for firings in (None, 1):
        told = found(chosen(ductility=0.6, firings=firings), one)
        life_, optimistic = told.findings[:2]
        assert (life_.name, life_.value, life_.x_m) == ("life_conservative", None, -0.01)
        assert life_.note.startswith("not known at 1 station, x = -10 mm: uts of Wall metal")
        assert f"the shortest life that is known is {cold:.0f} firings" in life_.note
        assert (optimistic.name, optimistic.value) == ("life_optimistic", None)
    # more asked than the known station lives: that one says enough
    design = chosen(ductility=0.6, firings=1 + int(cold / 4.0))
    told = found(design, one).findings[0]
    assert told.value == pytest.approx(cold, rel=HAND)
    assert "at most this: not known at 1 station" in told.note
    assert judged(design, one).nominal < 0.0


def test_a_cold_station_without_a_value_is_not_asked():
    # at rest and as it runs 290 K, below a table that begins at 295 K
    area = HEAD + "made,reduction_of_area,295,60,%,chosen,seen\n"
    area += "made,reduction_of_area,900,60,%,chosen,seen\n"
    design = chosen(tables=[("Wall metal.csv", WALL + area.removeprefix(HEAD))])
    told = found(design, run((500.0, 290.0)))
    assert np.isnan(told.columns["life_conservative_firings"]).tolist() == [False, True]
    by_hand = universal(ranges(500.0)[0], math.log(1.0 / 0.4))
    assert told.findings[0].value == pytest.approx(by_hand, rel=HAND)


def test_one_station_without_a_life_leaves_that_of_its_part_unknown():
    along = np.array([[30.0, 20.0, 5.0], [30.0, np.nan, 5.0], [30.0, 20.0, np.nan]])
    asked = np.array([True, True, False])
    assert life.of_part(along, asked).tolist() == pytest.approx([20.0, np.nan, 20.0], nan_ok=True)
    assert life.of_part(along, ~asked)[0] == 5.0


class Odd:
    """A law that lives longer the more it is strained."""

    source = "chosen"

    def cycles(self, T, strain_range):
        return 1e6 * strain_range + 0.0 * T


def test_the_conservative_life_is_never_above_the_optimistic(monkeypatch):
    monkeypatch.setattr(life, "fatigue_law", lambda design, liner: Odd())
    design = chosen()
    both = life.lives(Solved(design, metals.liner(design), None, run()), run())
    low = [1e6 * ranges(T)[1] for T in T_HOT]
    assert both.optimistic == pytest.approx(low, rel=HAND)
    # half the solidus is 650 K: a tenth at 800 K, the same at 500 K
    assert both.conservative == pytest.approx([0.1 * low[0], low[1]], rel=HAND)


def test_a_planned_heating_takes_tests_and_strength_away():
    one = chosen(ductility=0.6, tables=[("Wall metal.fatigue.csv", TESTS)])
    heated = replace(one, liner=replace(one.liner, process=(d.Heating("braze", 1200.0),)))
    told = found(heated)
    assert told.findings[0].value is None
    assert "braze at 926.85 degC" in told.findings[0].note


def test_many_designs_are_judged_as_one_by_one():
    design = chosen(ductility=0.6, firings=5)
    T = np.array([[800.0, 500.0], [700.0, 640.0], [950.0, 400.0]])
    compared = rule_of(design, beyond="nan").compare(run(T))
    margins = np.where(compared.asked, compared.value / compared.limit - 1.0, np.inf)
    least = np.min(margins, axis=-1)
    for n in (0, 1):
        one = judged(design, run(T[n]))
        assert least[n] == pytest.approx(one.nominal, rel=1e-12)
    assert np.isnan(least[2])  # the strength table ends at 900 K


def test_the_floor_thins_by_hand():
    told = found(chosen(ductility=0.6), run(p_gas_Pa=10e5))
    thin = next(f for f in told.findings if f.name == "floor_thinning")
    # bending adds twice 10e5 (1/0.8)^2/2/100e9 to the range; then, over the two half firings,
    # dp w^4 de_p/(32 s t^3), and half of it since lands are as wide as slots
    local = 10e5 * (1.0 / 0.8) ** 2 / 2.0 / 100e9
    plastic = math.sqrt(7.0 / 3.0) * (2.0 * 17e-6 * 500.0 + 2.0 * local - 2e-3)
    bulge = (10e5 + 20e5) * 1e-12 * plastic / (32.0 * 100e6 * 0.8e-3**3)
    assert thin.value == pytest.approx(0.5 * bulge, rel=1e-5)
    assert "estimate" in thin.note

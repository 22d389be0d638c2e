"""Which ends are uncooled, what wall and gas they have, and how they are judged."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from regen.case.read import load_case
from regen.checks import review as judge
from regen.checks import uncooled_ends
from regen.checks.runs import Run
from regen.design import Design, Liner, Profile
from regen.metals import alloys
from regen.solver.prepare import Prepared, prepare
from tests.helpers.places import CASES

CASE = CASES / "d-water-calorimeter.toml"
BARREL = {"cooled_from": -0.18}
SKIRT = {"cooled_to": 0.02}

T_HOT, H_GAS, T_AW = 480.0, 6e3, 2900.0


def design_of(**channels) -> Design:
    """The water-cooled chamber with one circuit, and its slots as given."""
    design = load_case(CASE).design
    return replace(
        design,
        circuits=(),
        channels=replace(design.channels, **channels),
        coolant=replace(design.coolant, mass_flow=0.6, inlet_pressure=80e5),
        models=replace(design.models, stations=21),
    )


def prepared(**channels) -> Prepared:
    return prepare(design_of(**channels))


def end_of(given: Prepared, name: str) -> uncooled_ends.UncooledEnd:
    found = uncooled_ends.end_of(given, given.run["h0"], name)
    assert found is not None
    return found


def run(stations: int) -> Run:
    fill = {"T_wall_hot_K": T_HOT, "h_gas_W_m2K": H_GAS, "T_aw_K": T_AW}
    return Run({key: np.full(stations, value) for key, value in fill.items()}, {})


def test_slots_to_both_ends_leave_no_lip():
    given = prepared()
    assert uncooled_ends.ends_of(given, np.zeros(1)) == ()


def test_the_wall_is_solid_where_there_are_no_slots():
    given = prepared(**BARREL)
    found = end_of(given, "injector")
    d = given.design
    r = float(given.contour.radius(given.contour.x_injector))
    solid = float(d.liner.wall.at(found.x[-1]) + d.channels.depth.at(found.x[-1]))
    parts = (solid, d.closeout.copper, d.closeout.jacket)
    assert found.thickness == pytest.approx([sum(parts)])
    inside = r
    for (area, _), thickness in zip(found.layers, parts, strict=True):
        ring = np.pi * ((inside + thickness) ** 2 - inside**2)
        assert area[0, -1] == pytest.approx(ring, rel=1e-9)
        inside += thickness
    assert found.s[-1] == pytest.approx(abs(found.x[-1] - found.x[0]))  # a cylinder
    assert found.heated == pytest.approx(2.0 * np.pi * r)


def test_in_the_barrel_the_gas_is_that_of_the_slots_end():
    found = end_of(prepared(**BARREL), "injector")
    assert found.x[0] == pytest.approx(-0.18)
    assert found.h_flow[0] == pytest.approx(1.0)
    assert found.T_aw_change[0] == pytest.approx(0.0, abs=1e-9)


def test_along_the_nozzle_the_coefficient_falls_as_the_closed_form_says():
    """(A0/A)^0.9 and the Mach number's (rise0/rise)^0.12; rise itself is 1 + (g-1)/2 M^2."""
    found = end_of(prepared(**SKIRT), "nozzle")
    area = (found.heated / found.heated[0]) ** 2
    (rise,) = found.rise
    mach = (rise / rise[0]) ** -0.12
    assert found.h_flow[0] == pytest.approx(area**-0.9 * mach, rel=1e-9)
    assert rise[-1] > rise[0] > 1.2  # M > 1 beyond the throat, g about 1.2 to 1.3
    assert found.T_aw_change[0, -1] < 0.0


def test_the_barrel_end_lies_between_two_closed_forms():
    """cosh(m s) with the coefficient of the base and with what is left of it at the peak.

    The wall factor of the closed form falls as the wall gets hotter, from 1 by (1 + T/T0)^-0.68.
    """
    given = prepared(**BARREL)
    found = end_of(given, "injector")
    T = found.solve(run(21)).T
    d = given.design
    k = [
        alloys.find(name, condition).value("thermal_conductivity", [T[0], T[-1]]).value
        for name, condition in (
            (d.liner.alloy, d.liner.condition),
            ("copper-electroformed", "any"),
            ("nickel-electroformed", "any"),
        )
    ]
    along = sum(area[0, 0] * values for (area, _), values in zip(found.layers, k, strict=True))
    left = ((1 + T[-1] / found.T0[0]) / (1 + T[0] / found.T0[0])) ** -0.68
    peaks = []
    for h, kA in ((H_GAS * left, along.max()), (H_GAS, along.min())):
        mL = np.sqrt(h * found.heated[0] / kA) * found.s[-1]
        peaks.append(T_AW + (T_HOT - T_AW) / np.cosh(mL))
    assert T[0] == pytest.approx(T_HOT)
    # the conductivities between the ends may leave their range a little: 0.1 % of gas less wall
    assert peaks[0] - 2.4 < T[-1] < peaks[1] + 2.4


def test_the_skirt_takes_up_what_the_closed_form_gives_it():
    """Heat by hand: coefficient of the base times flow and wall correction, T_aw falling."""
    found = end_of(prepared(**SKIRT), "nozzle")
    solved = found.solve(run(21))
    T = solved.T
    (rise,), (T0,), (change,) = found.rise, found.T0, found.T_aw_change
    correction = (0.5 * T / T0 * rise + 0.5) ** -0.68
    at_base = (0.5 * T_HOT / T0 * rise[0] + 0.5) ** -0.68
    q = H_GAS * found.h_flow[0] * correction / at_base * (T_AW + change - T)
    assert solved.heat == pytest.approx(np.trapezoid(q * found.heated, found.s), rel=1e-3)
    # half way along, what flows in is what the rest of the skirt takes up
    half = T.size // 2
    kA = sum(a[0] * np.interp(T, uncooled_ends.WALL_NODES, k[0]) for a, k in found.layers)
    flow = (kA * np.gradient(T, found.s))[half]
    beyond = np.trapezoid((q * found.heated)[half:], found.s[half:])
    assert flow == pytest.approx(beyond, rel=5e-3)
    # both matter here by far more than this
    assert correction[-1] / at_base < 0.92
    assert change[-1] < -0.01 * (T_AW - T[-1])


def test_of_two_passes_at_the_end_the_hotter_one_holds():
    found = end_of(prepared(**BARREL, passes="down and back"), "injector")
    assert found.rows.tolist() == [0, 1]
    stations = run(42).stations | {"T_wall_hot_K": np.full(42, T_HOT)}
    stations["T_wall_hot_K"][1] += 50.0
    assert found.hottest(Run(stations, {})) == 1
    assert found.solve(Run(stations, {})).T[0] == pytest.approx(T_HOT + 50.0)


def test_without_heat_the_end_is_as_warm_as_the_wall():
    found = end_of(prepared(**BARREL), "injector")
    still = Run({**run(21).stations, "h_gas_W_m2K": np.zeros(21)}, {})
    assert found.solve(still).T == pytest.approx(T_HOT)


@pytest.mark.parametrize(
    ("channels", "names"),
    [
        ({}, []),
        (BARREL, ["injector_lip_temperature"]),
        (BARREL | SKIRT, ["injector_lip_temperature", "nozzle_lip_temperature"]),
        (BARREL | {"cooled_to": -0.03}, ["injector_lip_temperature", "uncooled_wall"]),
        (SKIRT | {"cooled_from": 0.01}, ["nozzle_lip_temperature", "uncooled_wall"]),
    ],
)
def test_each_end_has_its_margin(channels, names):
    result = judge.review(design_of(**channels))
    found = {m.name: m for m in result.margins if "lip" in m.name or "uncooled" in m.name}
    assert list(found) == names
    notes = [note for note in result.notes if note.code == "uncooled wall"]
    assert len(notes) == len([name for name in names if "lip" in name])
    for name, margin in found.items():
        if name == "uncooled_wall":
            assert (margin.verdict, margin.nominal_kept) == ("open", False)
            continue
        assert None not in (margin.nominal, margin.band_edge, margin.worst_channel)
        assert margin.limit == 800.0
        # hotter wall and more flux at the edge and in the streak
        assert margin.nominal > max(margin.band_edge, margin.worst_channel)
        ends = result.contour_x[[0, -1]]
        assert np.abs(ends - margin.x_m).min() < 1e-9  # hottest at its very end


def test_the_band_edge_has_the_hottest_wall_and_the_highest_coefficient():
    design = design_of(**BARREL)
    result = judge.review(design)
    (margin,) = [m for m in result.margins if m.name == "injector_lip_temperature"]
    names = ("T_wall_hot_K", "h_gas_W_m2K", "T_aw_K")
    edge = {name: result.station_bands[name][1] for name in names}
    hottest = end_of(prepare(design), "injector").solve(Run(edge, {}))
    assert edge["h_gas_W_m2K"][0] > 1.01 * result.stations["h_gas_W_m2K"][0]
    assert margin.band_edge == pytest.approx(1.0 - hottest.T.max() / 800.0, abs=1e-6)


def test_no_limit_of_the_alloy_is_unknown_and_no_heat_is_lost():
    design = replace(
        design_of(**BARREL), liner=Liner("304L", "annealed-minimum", Profile.constant(1e-3))
    )
    result = judge.review(design)
    (margin,) = [m for m in result.margins if m.name == "injector_lip_temperature"]
    assert (margin.verdict, margin.nominal_kept) == ("open", False)
    assert margin.closes == "limits.T_wall_hot"
    given = judge.review(replace(design, limits=replace(design.limits, T_wall_hot=900.0)))
    (margin,) = [m for m in given.margins if m.name == "injector_lip_temperature"]
    assert margin.verdict != "open"
    assert margin.source == "given_in_case"

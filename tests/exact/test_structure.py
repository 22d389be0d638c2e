"""Expansion, strain range, jacket and proof against hand work and independent balances."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from regen import design as d
from regen.checks.registry import rules
from regen.checks.runs import Run, Solved
from regen.checks.strength.strain import STATES, growth, mismatch, strain_range, thermal_strain
from regen.checks.strength.structure import (
    cosine,
    jacket_needed,
    jacket_shell,
    jacket_temperature,
    mean_land,
    proof,
    thrust,
)
from regen.errors import MissingProperty, RangeError
from regen.metals.alloys import find

EXACT = 1e-12  # rounding of a few operations
COPPER = find("Cu-OFHC", "annealed")
ALLOY = find("Cu-Cr-Zr", "solution-annealed-aged")
NICKEL = find("nickel-electroformed", "sulfamate")
PLATED = find("copper-electroformed", "any")


def design(**closeout) -> d.Design:
    return d.Design(
        title="a ring",
        propellants=d.Propellants("oxygen", "methane", 3.0),
        chamber=d.Chamber(30e5),
        contour=d.ContourShape(6.0, 5.0, throat_diameter=0.038, barrel_length=0.1),
        liner=d.Liner("Cu-Cr-Zr", "solution-annealed-aged", d.Profile.constant(0.8e-3)),
        channels=d.Channels(80, d.Profile.constant(1e-3), d.Profile.constant(2e-3), 3e-6),
        coolant=d.Coolant("water", 290.0),
        closeout=d.Closeout(**closeout),
    )


def run(**columns) -> Run:
    """Three stations of a cylinder, or what is given of them."""
    base = {
        "x_m": [-0.1, 0.0, 0.1],
        "r_m": [0.04, 0.04, 0.04],
        "T_wall_hot_K": [700.0, 600.0, 500.0],
        "T_wall_cold_K": [500.0, 440.0, 400.0],
        "T_coolant_K": [400.0, 350.0, 300.0],
        "h_coolant_W_m2K": [30e3, 40e3, 50e3],
        "p_coolant_Pa": [80e5, 85e5, 90e5],
        "p_gas_Pa": [30e5, 30e5, 30e5],
        "channel_width_m": [1.0e-3] * 3,
        "channel_depth_m": [2.0e-3] * 3,
        "land_width_m": [1.5e-3] * 3,
        "wall_m": [0.8e-3] * 3,
        "passage_length_m": [0.2, 0.1, 0.0],
    }
    stations = {name: np.array(columns.get(name, value)) for name, value in base.items()}
    return Run(stations, {"coolant_pressure_in_Pa": 95e5})


# --- expansion ---------------------------------------------------------------------------------
def test_strain_is_the_integral_of_the_instantaneous_coefficient():
    # straight between 15.9e-6 at 300 K and 17.8e-6 at 500 K: the mean of the ends
    assert thermal_strain(ALLOY, 500.0, 300.0) == pytest.approx(16.85e-6 * 200.0, rel=EXACT)
    # 300 to 400 K: up to 16.85e-6
    assert thermal_strain(ALLOY, 400.0, 300.0) == pytest.approx(16.375e-6 * 100.0, rel=EXACT)


def test_strain_is_mean_coefficient_times_the_way_from_its_reference():
    # nickel counts from 294.15 K: 13.9e-6 to 477.15 K, 13.3e-6 to 366.15 K
    by_hand = 13.9e-6 * 183.0 - 13.3e-6 * 72.0
    assert thermal_strain(NICKEL, 477.15, 366.15) == pytest.approx(by_hand, rel=1e-9)
    # between 11.9e-6 to 200 K and 13.3e-6 to 366.15 K
    mean = (11.9 + 1.4 * 130.15 / 166.15) * 1e-6
    assert thermal_strain(NICKEL, 330.15, 294.15) == pytest.approx(mean * 36.0, rel=1e-9)


def test_mean_and_instantaneous_are_not_mixed_up():
    # published: mean 18.1e-6 of this alloy from 20 to 480 degC, 1 % (nasa_tm_2007_214663)
    found = thermal_strain(ALLOY, 753.15, 293.15) / 460.0
    assert found == pytest.approx(18.1e-6, rel=0.01)
    assert abs(found / 20.3e-6 - 1.0) > 0.05  # its instantaneous one at the hot end


@pytest.mark.parametrize("metal", [ALLOY, NICKEL, COPPER])
def test_strains_add_up_whatever_they_count_from(metal):
    a, b, c = 300.0, 480.0, 700.0
    whole = thermal_strain(metal, c, a)
    assert thermal_strain(metal, b, a) + thermal_strain(metal, c, b) == pytest.approx(whole)
    assert thermal_strain(metal, a, c) == pytest.approx(-whole)


def test_a_table_that_ends_is_not_extended():
    with pytest.raises(RangeError, match=r"at 60 to 60 K: its expansion is tabulated from 77"):
        thermal_strain(NICKEL, 60.0, 300.0)
    quiet = replace(NICKEL, beyond="nan")
    found = thermal_strain(quiet, np.array([60.0, 400.0, 1500.0]), 300.0)
    assert np.isnan(found).tolist() == [True, False, True]
    with pytest.raises(MissingProperty, match="thermal_expansion_mean"):
        thermal_strain(find("Cu-Ag-Zr", "solution-annealed-aged"), 400.0, 300.0)


# --- strain range --------------------------------------------------------------------------------
# copper against copper, whose expansion is tabulated in every state: 15.21, 16.2, 16.57, 18.3 and
# 20.3e-6 at 200, 250, 293.15, 500 and 800 K; 18.3 + 2 x 200/300 = 19.633e-6 at 700 K
COLD_TO_HOT = (50 * 15.705 + 43.15 * 16.385 + 206.85 * 17.435 + 200 * 18.96667) * 1e-6


def ranged(liner, jacket, case):
    """Return the strain range of a liner in a jacket."""
    made = design(jacket_alloy=jacket.alloy.key, jacket_condition=jacket.condition)
    return strain_range(Solved(made, liner, None, case), case)


def test_strain_range_by_hand():
    case = run(T_coolant_K=[200.0, 200.0, 200.0], T_wall_hot_K=[700.0] * 3)
    found = ranged(COPPER, COPPER, case)
    assert found.note == ""
    assert found.held.endswith("at most this: yield of Cu-OFHC below 293 K")
    # run is liner 700 K on the jacket, stop 200 K on the same jacket: the jacket cancels
    assert [STATES[n] for n in (found.upper[0], found.lower[0])] == ["run", "stop"]
    assert found.mismatch == pytest.approx(COLD_TO_HOT, rel=1e-6)
    # mean wall 600 K: E 103.4 GPa, yield between 59.0 (473.15) and 46.8 (673.15): 51.263 MPa;
    # stop 200 K: E 121.0 GPa, yield held at 69 MPa. Bending 50 bar (1/0.8)^2/2 = 3.906 MPa
    local = 2.0 * 0.5 * 50e5 * (1.0 / 0.8) ** 2 / 103.4e9
    elastic = 51.263e6 / 103.4e9 + 69e6 / 121.0e9
    assert found.total[0] - found.plastic[0] == pytest.approx(elastic, rel=1e-4)
    low = 2.0 / np.sqrt(3.0) * COLD_TO_HOT + local
    assert found.total_low[0] == pytest.approx(low, rel=1e-6)
    gathered = np.sqrt((2.5**2 + 2.5 + 1.0) / 3.0)  # (w + b)/w = 2.5 across, 1 along
    high = gathered * (2.0 * COLD_TO_HOT + local - elastic)
    assert found.plastic[0] == pytest.approx(high, rel=1e-4)


def test_equal_temperatures_strain_nothing_but_by_pressure():
    still = run(**{f"T_{name}_K": [300.0] * 3 for name in ("wall_hot", "wall_cold", "coolant")})
    found = ranged(COPPER, COPPER, still)
    assert found.mismatch == pytest.approx(0.0, abs=1e-15)
    # 50 to 60 bar: 2 x 3.9 MPa over 117 GPa
    assert found.total[0] == pytest.approx(2.0 * 3.90625e6 / 116.7e9, rel=2e-3)
    assert found.plastic == pytest.approx(0.0, abs=1e-15)


def test_a_chilled_state_is_held_where_it_overstates_the_range():
    # the last station's coolant, and so start and stop, at 30 K. The alloy's table begins at 40 K
    # with 2.23e-6: 10 K more of it. Nickel's begins at 77 K: at start it contracts no further
    case = run(T_coolant_K=[400.0, 350.0, 30.0])
    found = ranged(ALLOY, NICKEL, case)
    assert STATES[found.lower[2]] == "stop"
    liner = float(thermal_strain(ALLOY, 40.0, 500.0)) - 2.23e-6 * 10.0
    # as it runs the land's tip is above 77 K there, at one temperature in both states
    assert jacket_temperature(design(), ALLOY, case)[2] > 77.0
    assert found.mismatch[2] == pytest.approx(-liner, rel=1e-9)
    for word in ("Cu-Cr-Zr below 40 K", "expansion of nickel-electroformed below 77 K"):
        assert word in found.held
    assert found.note == ""


CHILLED = {"T_wall_cold_K": [60.0] * 3, "T_coolant_K": [50.0] * 3}


def test_a_jacket_colder_than_its_table_contracts_as_it_runs_and_not_at_start():
    case = run(**CHILLED)
    found = ranged(ALLOY, NICKEL, case)
    T = jacket_temperature(design(), ALLOY, case)[0]
    assert 50.0 < T < 77.0
    # nickel counts from 294.15 K: 9.8e-6 to its first point, 77 K, and no more than that beyond
    as_run, at_start = 9.8e-6 * (T - 294.15), 9.8e-6 * (77.0 - 294.15)
    liner = float(thermal_strain(ALLOY, 700.0, 50.0))
    assert found.mismatch[0] == pytest.approx(liner - as_run + at_start, rel=1e-9)


def test_yield_and_modulus_are_held_where_the_modulus_begins():
    # copper's modulus begins at 77 K with 125.8 GPa, its yield at 293 K with 69 MPa
    case = run(T_coolant_K=[50.0] * 3, T_wall_hot_K=[700.0] * 3)
    found = ranged(COPPER, COPPER, case)
    hot = 51.263e6 / 103.4e9  # at the wall's mean, 600 K
    assert found.total[0] - found.plastic[0] == pytest.approx(hot + 69e6 / 125.8e9, rel=1e-4)
    assert "modulus of Cu-OFHC below 77 K" in found.held
    # bending of 50 bar, 3.906 MPa, by a wall whose mean is below 77 K too
    cold = ranged(COPPER, COPPER, run(T_wall_hot_K=[80.0] * 3, **CHILLED))
    bent = cold.total_low[0] - 2.0 / np.sqrt(3.0) * cold.mismatch[0]
    assert bent == pytest.approx(2.0 * 3.90625e6 / 125.8e9, rel=1e-9)


def test_a_state_beyond_a_table_is_not_assessed_and_named():
    found = ranged(ALLOY, NICKEL, run(T_wall_hot_K=[950.0, 600.0, 500.0]))
    assert np.isnan(found.total).tolist() == [True, False, False]
    assert np.isnan(found.total_low).tolist() == [True, False, False]
    for word in ("expansion of Cu-Cr-Zr", "to 900 K", "gets to 950 K at 1 stations"):
        assert word in found.note
    silver = find("Cu-Ag-Zr", "solution-annealed-aged")
    found = ranged(silver, NICKEL, run())
    assert np.isnan(found.total).all()
    assert found.note.startswith("not assessed: thermal_expansion_mean of Cu-Ag-Zr")


# --- the jacket ----------------------------------------------------------------------------------
@pytest.mark.parametrize("copper", [0.0, 0.4e-3])
def test_jacket_temperature_is_that_of_the_fin_by_differences(copper):
    case, closeout = run(), design(jacket=1e-3, copper=copper)
    s = {name: float(values[0]) for name, values in case.stations.items()}
    k_l = float(ALLOY.value("thermal_conductivity", 450.0).value)
    k_j = float(NICKEL.value("thermal_conductivity", 400.0).value)
    k_cu = float(PLATED.value("thermal_conductivity", 400.0).value)
    land, h, roof = float(mean_land(case)[0]), s["h_coolant_W_m2K"], k_j * 1e-3 + k_cu * copper
    through = 1.0 / (1.0 / h + (1e-3 + copper) ** 2 / (3.0 * roof))
    # nodes up half a land, then along half a roof; conduction between, films on the free side
    n = 400
    steps = np.r_[np.full(n, s["channel_depth_m"] / n), np.full(n, 0.5 * s["channel_width_m"] / n)]
    links = np.r_[np.full(n, k_l * 0.5 * land), np.full(n, roof)] / steps
    films = 0.5 * steps * np.r_[np.full(n, h), np.full(n, through)]
    matrix, right = np.zeros((2 * n + 1,) * 2), np.zeros(2 * n + 1)
    for i, (link, film) in enumerate(zip(links, films, strict=True)):
        matrix[i, i] += link + film
        matrix[i + 1, i + 1] += link + film
        matrix[i, i + 1] -= link
        matrix[i + 1, i] -= link
    matrix[0], right[0] = 0.0, s["T_wall_cold_K"] - s["T_coolant_K"]
    matrix[0, 0] = 1.0
    tip = s["T_coolant_K"] + np.linalg.solve(matrix, right)[n]
    found = jacket_temperature(closeout, ALLOY, case)[0]
    assert found - s["T_coolant_K"] == pytest.approx(tip - s["T_coolant_K"], rel=1e-4)


def test_thrust_is_the_change_of_momentum_of_the_gas():
    # perfect gas of 1.2: at the exit p A (1 + gamma M^2), whatever the contour between
    gamma = 1.2
    x = np.linspace(-1.0, 1.0, 4001)
    mach = np.exp(1.2 * x)
    low = 1.0 + 0.5 * (gamma - 1.0) * mach**2
    p = 30e5 * low ** (-gamma / (gamma - 1.0))
    area = 1e-3 / mach * (2.0 / (gamma + 1.0) * low) ** (0.5 * (gamma + 1.0) / (gamma - 1.0))
    one = Run({"x_m": x, "r_m": np.sqrt(area / np.pi), "p_gas_Pa": p}, {})
    face = p[0] * (1.0 + gamma * mach[0] ** 2)  # of the injector: at rest behind it
    exit_plane = p[-1] * area[-1] * (1.0 + gamma * mach[-1] ** 2)
    assert thrust(one, face) == pytest.approx(exit_plane, rel=1e-5)


def test_cosine_of_a_cone_and_of_repeated_stations():
    x = np.array([0.0, 0.0, 0.1, 0.1, 0.3, 0.3])
    found = cosine(run(x_m=x, r_m=0.02 + np.tan(0.4) * x))
    assert found == pytest.approx(np.cos(0.4), rel=EXACT)


def test_proof_pressure_by_hand():
    # ligament hottest at the first station: mean 600 K, yield (249 + 191)/2 = 220 MPa; cold 288
    # (held at 300 K): 1.3091. Lands 500 K: 249. Jacket hotter than its table: left out
    case = run()
    T_jacket = np.full(3, 400.0)
    found = proof(d.Limits(), ALLOY, NICKEL, case, T_jacket)
    assert found.ratios["ligament"] == pytest.approx(288.0 / 220.0, rel=1e-9)
    assert found.ratios["lands"] == pytest.approx(288.0 / 249.0, rel=1e-9)
    assert "closeout.jacket_yield_strength" in found.left_out
    # 95 bar at the inlet manifold is the highest, 30 bar in the bore
    assert found.channels == pytest.approx(1.2 * 95e5 * 288.0 / 220.0, rel=1e-9)
    assert found.bore == pytest.approx(1.2 * 30e5 * 288.0 / 220.0, rel=1e-9)
    assert found.governs("channels") == ("ligament", pytest.approx(1.30909, rel=1e-5))


def test_a_jacket_that_softens_most_governs_the_proof():
    # 316L: 205 MPa cold; 127 at 473.15 K. Copper alloy at 320 K loses next to nothing
    cool = run(**{f"T_wall_{side}_K": [320.0] * 3 for side in ("hot", "cold")})
    steel = find("316L", "annealed-minimum")
    found = proof(d.Limits(proof_factor=1.5), ALLOY, steel, cool, np.full(3, 473.15))
    part, ratio = found.governs("bore")
    assert (part, found.left_out) == ("jacket", "")
    assert ratio == pytest.approx(205.0 / 127.0, rel=1e-9)
    assert found.bore == pytest.approx(1.5 * 30e5 * ratio, rel=1e-9)


def test_a_proof_is_never_lower_than_its_factor():
    cold = run(**{f"T_wall_{side}_K": [200.0] * 3 for side in ("hot", "cold")})
    found = proof(d.Limits(), ALLOY, NICKEL, cold, np.full(3, 150.0))
    assert found.channels == pytest.approx(1.2 * 95e5, rel=EXACT)
    # a liner that is stronger as it runs, 322.7 MPa at 173 K, than at the test, does not lower it
    stronger = find("Cu-Cr-Nb-4-2", "lpbf-heat-treated")
    found = proof(d.Limits(), stronger, NICKEL, cold, np.full(3, 150.0))
    assert found.bore == pytest.approx(1.2 * 30e5, rel=EXACT)


def test_the_thrust_counts_whichever_end_holds_the_chamber():
    # 4 mm of steel on a mean radius of 44.8 mm, a bore of 40 mm: no rings of wall in a cylinder,
    # so the thrust is the injector's alone
    made = design(copper=0.0, **STEEL)
    case = run(p_gas_Pa=[90e5] * 3)
    whole = jacket_shell(Solved(made, ALLOY, None, case), case)
    t = np.full(3, 4e-3)
    hoop = np.maximum(case.stations["p_coolant_Pa"], 90e5) * 44.8e-3 / 4e-3
    pull, push = 0.5 * 90e5 * 40e-3 / 4e-3, 90e5 * 40e-3**2 / (2.0 * 44.8e-3 * 4e-3)
    both = [np.sqrt(hoop**2 - hoop * s + s**2) for s in (pull + push, pull - push)]
    assert whole.running(t) == pytest.approx(np.maximum(hoop, np.maximum(*both)), rel=1e-9)
    # a thrust far above what the bore alone explains presses the jacket: that governs
    pressed = replace(whole, F=np.asarray(200e3))
    push = 200e3 / (2.0 * np.pi * 44.8e-3 * 4e-3)
    by_push = np.sqrt(hoop**2 - hoop * (pull - push) + (pull - push) ** 2)
    assert pressed.running(t) == pytest.approx(by_push, rel=1e-9)


STEEL = {"jacket_alloy": "316L", "jacket_condition": "annealed-minimum", "route": "HIP-bonded"}


def by_hand(t: float, case: Run, at: int, allowed: float, p_proof: float, p_bore: float) -> float:
    """Return the largest use of the jacket at one station of a cylinder [-]."""
    p_c, p_g = case.stations["p_coolant_Pa"][at], 30e5
    w, r, bore = 1.0e-3, 0.04 + 0.8e-3 + 2.0e-3 + 0.5 * t, 0.04
    push = p_g * np.pi * bore**2 / (2.0 * np.pi * r * t)  # no rings: the injector's alone
    hoop, pull = p_c * r / t, 0.5 * p_g * bore / t
    mises = [np.sqrt(hoop**2 - hoop * s + s**2) for s in (pull + push, pull - push)]
    run = max(hoop, *mises, 0.5 * p_c * (w / t) ** 2) / allowed
    h_b, a_b = p_bore * r / t, 0.5 * p_bore * bore / t
    test = max(p_proof * r / t, np.sqrt(h_b**2 - h_b * a_b + a_b**2), 0.5 * p_proof * (w / t) ** 2)
    return max(run, test / 205e6)


def needed_of(made: d.Design, case: Run):
    return jacket_needed(Solved(made, ALLOY, None, case), case)


def test_the_jacket_that_is_needed_is_just_strong_enough():
    case = run()
    made = design(copper=0.0, **STEEL)
    steel = find("316L", "annealed-minimum")
    needed = needed_of(made, case)
    assert needed.note == "for run and proof, hot and cold"
    T = jacket_temperature(made, ALLOY, case)
    tested = proof(made.limits, ALLOY, steel, case, T)
    for at in range(3):
        hot = float(steel.value("yield", T[at]).value) / 1.25
        t = float(needed.thickness[at])
        used = by_hand(t, case, at, hot, float(tested.channels), float(tested.bore))
        assert used == pytest.approx(1.0, rel=1e-6)


def test_a_wide_roof_needs_more_than_the_shell():
    # 12 mm slots in a barrel of 40 mm: p w^2/(2 t^2) governs
    case = run(channel_width_m=[12e-3] * 3)
    needed = needed_of(design(), case)
    tested = proof(d.Limits(), ALLOY, NICKEL, case, np.full(3, 500.0))
    by_roof = 12e-3 * np.sqrt(0.5 * float(tested.channels) / 437e6)
    assert needed.thickness == pytest.approx(by_roof, rel=1e-9)
    assert needed.note.startswith("for the proof test alone where yield of nickel-electroformed")


def test_many_designs_need_what_each_needs_alone():
    each = [run(), run(r_m=[0.05] * 3), run(T_wall_hot_K=[500.0] * 3)]
    stacked = {name: np.stack([one.stations[name] for one in each]) for name in each[0].stations}
    many = Run(stacked, {"coolant_pressure_in_Pa": np.full(3, 95e5)})
    together = needed_of(design(), many).thickness
    strained = ranged(ALLOY, NICKEL, many).total
    for n, one in enumerate(each):
        assert np.array_equal(together[n], needed_of(design(), one).thickness)
        assert np.array_equal(strained[n], ranged(ALLOY, NICKEL, one).total)


# --- mismatch and growth -------------------------------------------------------------------------
def test_a_liner_at_its_yield_pulls_the_jacket_with_its_own_force():
    case = run()
    hot, cold = np.full(3, 700.0), np.full(3, 400.0)
    found = mismatch(Solved(design(), ALLOY, None, run()), case, hot, cold)
    # free strain since the bath at 323.15 K: alloy 323.15 to 700 K, nickel to 400 K
    by_hand = float(thermal_strain(ALLOY, 700.0, 323.15) - thermal_strain(NICKEL, 400.0, 323.15))
    assert found.strain == pytest.approx(by_hand, rel=EXACT)
    assert found.liner == pytest.approx(-191e6, rel=1e-9)  # yield at 700 K, in compression
    # wall 0.8 mm and lands of 1.561 mm in a pitch of 2.561 mm, 2 mm deep
    pitch = 2.5e-3 * (1.0 + 1.0e-3 / 0.0408)
    t_l = 0.8e-3 + 2e-3 * (pitch - 1e-3) / pitch
    assert found.jacket == pytest.approx(191e6 * t_l / 3e-3, rel=1e-9)
    assert "rigid" in found.note
    with pytest.raises(RangeError, match="not free of stress at a temperature that is known"):
        mismatch(Solved(design(**STEEL), ALLOY, None, run()), case, hot, cold)


def test_a_liner_below_its_yield_shares_the_strain_with_the_jacket_by_stiffness():
    # joined at the bath's 323.15 K; now the liner at 340 K, the jacket at 293.15 K, where alone the
    # modulus of its nickel is known. Expansion of the liner 15.9e-6 at 300 to 17.8e-6 at 500 K;
    # nickel's means, 11.9e-6 to 200 K and 13.3e-6 to 366.15 K, count from 294.15 K
    found = mismatch(
        Solved(design(), ALLOY, None, run()), run(), np.full(3, 340.0), np.full(3, 293.15)
    )
    grown = (15.9 + 1.9 * (31.575 / 200.0)) * 16.85  # at the middle, 331.575 K
    at_bath, at_room = (11.9 + 1.4 * (T - 200.0) / 166.15 for T in (323.15, 293.15))
    e = 1e-6 * (grown + at_bath * 29.0 + at_room * 1.0)
    E_l, E_j, nu, t_j = (122.9 - 5.0 * 46.85 / 106.85) * 1e9, 180e9, 0.34, 3e-3
    pitch = 2.5e-3 * (1.0 + 1.0e-3 / 0.0408)
    t_l = 0.8e-3 + 2e-3 * (pitch - 1e-3) / pitch
    # unknown: both stresses and the common strain, as for two layers without force from outside
    equations = [[t_l, t_j, 0.0], [(1.0 - nu) / E_l, 0.0, -1.0], [0.0, (1.0 - nu) / E_j, -1.0]]
    liner, jacket, _ = np.linalg.solve(equations, [0.0, -e, 0.0])
    assert abs(liner) < 100e6  # far from its yield
    assert found.strain == pytest.approx(e, rel=1e-6)
    assert found.liner == pytest.approx(liner, rel=1e-6)
    assert found.jacket == pytest.approx(jacket, rel=1e-6)
    assert found.note == ""


def test_the_bore_alone_proves_the_hot_wall_where_the_coolant_has_less_pressure():
    # 20 bar of coolant round a chamber of 30 bar, no warmer than the test: 1.2 x 30 bar. Shear
    # governs, sqrt(3) p w/(2 t)
    cold = {f"T_{name}_K": [290.0] * 3 for name in ("wall_hot", "wall_cold", "coolant")}
    case = Run(run(p_coolant_Pa=[20e5] * 3, **cold).stations, {"coolant_pressure_in_Pa": 20e5})
    solved = Solved(design(), ALLOY, None, case)
    by_name = {rule.limit.name: rule for rule in rules(solved, "strength")}
    compared = by_name["ligament_proof"].compare(case)
    stress = np.sqrt(3.0) * 1.2 * 30e5 * 1.0e-3 / (2.0 * 0.8e-3)
    assert compared.value == pytest.approx(np.full(3, stress), rel=1e-9)


def test_growth_is_strain_times_length():
    x = np.array([-0.2, -0.1, 0.3])
    assert growth(np.full(3, 2e-3), x) == (pytest.approx(1e-3, rel=EXACT), 0)
    value, left_out = growth(np.array([2e-3, np.nan, 2e-3]), x)
    assert np.isnan(value)
    assert left_out == 1

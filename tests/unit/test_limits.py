import tomllib
from dataclasses import replace
from typing import get_args

import numpy as np
import pytest

from regen.checks.coolant import burnout_flux
from regen.checks.findings import read_data
from regen.checks.limits import LIMITS, along, margins, notes, overall
from regen.checks.registry import rules
from regen.checks.runs import LOWEST_PRESSURE, Run, Stopped
from regen.checks.thermal_limits import COKING_FILE, coking_limits
from regen.design import Allowables, Closeout, CoolantFluid
from regen.metals.alloys import find
from regen.physics import status as st
from regen.result import Column
from tests.helpers.quiet import BAR, STEEL, facts, margin, names, run, solved


def test_quiet_design_passes_everything():
    case = solved(band=run(), worst=(run(),))
    found = margins(case)
    assert names(case) == [
        "hot_wall_temperature",
        "melting",
        "coolant_wall_temperature",
        "ligament_stress",
        "ligament_proof",
        "land_tension",
        "land_proof",
        "bond_stress",
        "jacket_stress",
        "roof_bending",
        "jacket_proof",
        "jacket_temperature",
        "thermal_stress",
        "ratchet",
        "wall_buckling",
        "jacket_reaction",
        "coolant_temperature",
        "coolant_mach",
        "injector_pressure",
        "land_width",
        "slot_aspect",
    ]
    assert {m.verdict for m in found if not m.informative} == {"pass"}
    assert overall(found) == "pass"


def test_every_stanza_of_the_data_has_its_function():
    assert set(read_data("limits.toml")) <= set(LIMITS)


def test_hot_wall_against_the_alloys_limit():
    found = margin("hot_wall_temperature", solved())
    assert (found.limit, found.x_m, found.verdict) == (800.0, 0.0, "pass")
    assert found.nominal == pytest.approx((800.0 - 700.0) / 800.0, rel=1e-12)
    assert found.band_edge is None
    assert found.source == "wall_limits"
    assert found.note == "limit from memory, medium confidence"


def test_long_service_has_the_lower_limit():
    found = margin("hot_wall_temperature", solved(limits={"service": "long"}))
    assert (found.limit, found.verdict) == (650.0, "fail")
    assert found.nominal < 0.0


def test_limit_of_the_case_replaces_the_alloys():
    found = margin("hot_wall_temperature", solved(limits={"T_wall_hot": 690.0}))
    assert (found.limit, found.source, found.verdict) == (690.0, "given_in_case", "fail")


def test_peak_between_the_rows_counts():
    hot = run({"T_wall_hot_max_K": 805.0}, T_wall_hot_K=[600.0, 799.0, 500.0])
    found = margin("hot_wall_temperature", solved(nominal=hot))
    assert found.verdict == "fail"
    assert found.nominal == pytest.approx(-5.0 / 800.0)


@pytest.mark.parametrize("run_name", ["band", "worst"])
def test_a_hot_edge_puts_it_at_risk(run_name):
    hot = run(T_wall_hot_K=[600.0, 810.0, 500.0])
    case = solved(**{run_name: hot})
    found = margin("hot_wall_temperature", case)
    assert found.verdict == "at risk"
    value = found.band_edge if run_name == "band" else found.worst_channel
    assert value == pytest.approx(-10.0 / 800.0)
    assert overall(margins(case)) == "at risk"


def test_unsolved_worst_channel_is_not_a_pass():
    boiled = Stopped(st.BOILED, "bulk boiling at x = -12 mm", -0.012)
    case = solved(worst=boiled)
    for name in ("hot_wall_temperature", "coolant_temperature"):
        found = margin(name, case)
        assert found.verdict == "at risk"
        assert found.columns["worst_channel"] == Column("broken", why=boiled.why)
    # what boiling says nothing of is not shown in a channel that stopped
    found = margin("land_tension", case)
    assert (found.verdict, found.nominal_kept, found.closes) == ("open", True, "")
    assert found.columns["worst_channel"].state == "unknown"
    lost = solved(worst=Stopped(st.NOT_CONVERGED, "not converged", 0.0))
    assert margin("hot_wall_temperature", lost).verdict == "open"


def test_alloy_without_a_limit_is_unknown():
    found = margin("hot_wall_temperature", solved("N06625", "annealed"))
    assert (found.verdict, found.nominal, found.limit) == ("open", None, None)
    assert not found.nominal_kept
    assert found.closes == "limits.T_wall_hot"


def test_melting_fails_whatever_the_limit():
    hot = run(T_wall_hot_K=[600.0, 1400.0, 500.0])
    case = solved(nominal=hot, limits={"T_wall_hot": 1500.0})
    assert margin("hot_wall_temperature", case).verdict == "pass"
    found = margin("melting", case)
    assert (found.limit, found.verdict, found.source) == (1348.15, "fail", "li_zinkle2012")
    assert overall(margins(case)) == "fail"


def test_coolant_wall_against_deposits():
    # the root's mean keeps the limit, the hottest place of the slot floor does not
    hot = run(T_wall_cold_K=[450.0, 550.0, 400.0], T_wall_floor_K=[455.0, 588.0, 402.0])
    assert margin("coolant_wall_temperature", solved(nominal=hot)).verdict == "pass"
    found = margin("coolant_wall_temperature", solved(fluid="propane", nominal=hot))
    assert (found.limit, found.source, found.verdict) == (560.0, "kerosene_coking", "fail")
    assert found.nominal == pytest.approx(1.0 - 588.0 / 560.0, rel=1e-12)
    case = solved(limits={"T_wall_cold": 485.0})
    assert margin("coolant_wall_temperature", case).verdict == "fail"


def test_propane_has_the_lower_of_two_limits():
    # 700 K is quoted for it, but it left more deposit than kerosene at the same wall
    limits = coking_limits()
    assert limits["propane"].value == limits["n-dodecane"].value == 560.0


def _sulfur(case):
    return [note for note in notes(case) if note.code == "sulfur"]


def test_sulfur_attacks_hot_copper():
    hot = run(T_wall_floor_K=[455.0, 512.0, 402.0])
    (found,) = _sulfur(solved(nominal=hot))
    assert found.x_m == 0.0
    for word in ("510 K", "500 K", "from memory, medium confidence", "nickel", "odorised"):
        assert word in found.text
    assert _sulfur(solved(fluid="propane", nominal=hot))
    assert _sulfur(solved(fluid="n-dodecane", nominal=hot))
    assert not _sulfur(solved(fluid="hydrogen", nominal=hot))
    assert not _sulfur(solved(nominal=run(T_wall_floor_K=[455.0, 499.0, 402.0])))
    assert not _sulfur(solved("N07718", "plate-aged", nominal=hot))


def test_coolant_without_a_limit_is_not_assessed_but_noted():
    case = solved(fluid="hydrogen")
    assert "coolant_wall_temperature" not in names(case)
    assert "coolant wall not assessed" in [n.code for n in notes(case)]
    assert "coolant wall not assessed" not in [n.code for n in notes(solved())]


def test_ligament_by_hand():
    # x = 0.05: dp 88 bar, w/t = 1, shear governs: sqrt(3)*88e5/2 = 7.6210 MPa;
    # yield at 450 K between 288 (300 K) and 249 (500 K): 258.75 MPa / 1.25 = 207 MPa.
    # x = 0: dp 68 bar: 5.8890 MPa; 600 K: (249 + 191)/2 = 220 / 1.25 = 176 MPa: better
    found = margin("ligament_stress", solved())
    assert found.x_m == 0.05
    assert found.limit == pytest.approx(207e6, rel=1e-9)
    assert found.nominal == pytest.approx(1.0 - 7.6210 / 207.0, rel=1e-4)


def test_ligament_bending_governs_a_wide_thin_wall_and_fails():
    # w/t = 10: bending 68e5*100/2 = 340 MPa against 176 MPa
    thin = run(channel_width_m=[0.8e-3, 4e-3, 0.8e-3], wall_m=[0.8e-3, 0.4e-3, 0.8e-3])
    found = margin("ligament_stress", solved(nominal=thin))
    assert (found.x_m, found.verdict) == (0.0, "fail")
    assert found.nominal == pytest.approx(1.0 - 340.0 / 176.0, rel=1e-6)
    assert margin("ligament_stress", solved(worst=(run(), thin))).verdict == "at risk"


def test_gas_pressure_above_the_coolants_loads_the_wall_too():
    # dp -100 bar at w/t = 10: 500 MPa
    pressed = run(
        p_coolant_Pa=[50 * BAR] * 3,
        p_gas_Pa=[150 * BAR] * 3,
        channel_width_m=[4e-3] * 3,
        wall_m=[0.4e-3] * 3,
    )
    assert margin("ligament_stress", solved(nominal=pressed)).verdict == "fail"


@pytest.mark.parametrize("name", ["ligament_stress", "land_tension"])
def test_missing_strength_is_unknown_never_assumed(name):
    found = margin(name, solved("Cu-Cr-Nb-4-2", "lpbf-hip"))
    assert (found.verdict, found.nominal, found.closes) == ("open", None, "liner.yield_strength")
    why = found.columns["nominal"].why
    assert "yield of Cu-Cr-Nb-4-2 in condition 'lpbf-hip' is not tabulated" in why
    assert overall(margins(solved("Cu-Cr-Nb-4-2", "lpbf-hip"))) == "open"


def test_wall_hotter_than_its_strength_table_is_unknown():
    hot = run(T_wall_hot_K=[600.0, 1100.0, 500.0], T_wall_cold_K=[450.0, 800.0, 400.0])
    found = margin("ligament_stress", solved(nominal=hot))
    assert (found.verdict, found.nominal_kept) == ("open", False)
    why = found.columns["nominal"].why
    assert "950 K: its table covers 300 to 900 K (zhang2019)" in why
    found = margin("ligament_stress", solved(band=hot))
    assert (found.verdict, found.nominal_kept) == ("open", True)


def test_land_tension_by_hand():
    # x = 0: 85 bar * 0.8/0.8 = 8.5 MPa; yield at 500 K 249/1.25 = 199.2 MPa
    found = margin("land_tension", solved())
    assert found.x_m == 0.0
    assert found.nominal == pytest.approx(1.0 - 8.5 / 199.2, rel=1e-9)
    narrow = run(land_width_m=[1.6e-3, 0.03e-3, 1.2e-3])
    assert margin("land_tension", solved(nominal=narrow)).verdict == "fail"
    assert margin("land_tension", solved(band=narrow)).verdict == "at risk"


NICKEL = Closeout()
"""The usual jacket: its yield is known at 293.15 K alone, 437 MPa."""


def floored(T, **closeout):
    """A design whose jacket is at T [K]: lands too short to cool, coolant and root alike."""
    at = dict.fromkeys(("T_wall_cold_K", "T_coolant_K"), [T] * 3)
    case = solved(closeout=Closeout(**{"jacket": 8e-3, **closeout}), nominal=run(**at))
    return margin("jacket_stress", case), margin("roof_bending", case)


def test_a_hot_jacket_is_held_against_annealed_nickel_as_a_floor():
    # 139 MPa at 477 to 589 K (memory, medium) over 1.25
    for found in floored(550.0):
        assert (found.verdict, found.nominal_kept) == ("open", True)
        assert found.columns["nominal"].indicative
        assert found.limit == pytest.approx(139e6 / 1.25)
        assert found.closes == "closeout.jacket_yield_strength"
        assert "wrought_nickel_strength, memory-medium" in found.columns["nominal"].why


def test_up_to_473_K_the_floor_counts_as_known_where_sulfur_is_declared_low():
    # between 148 MPa at 293.15 K and 139 at 477.15 K: 139.68 MPa at 463.15 K, over 1.25
    for found in floored(463.15, jacket_sulfur="low"):
        assert (found.verdict, found.columns["nominal"].indicative) == ("pass", False)
        assert found.limit == pytest.approx((148 - 9 * 170 / 184) * 1e6 / 1.25, rel=1e-6)
    assert {found.verdict for found in floored(463.15)} == {"open"}
    assert {found.verdict for found in floored(474.0, jacket_sulfur="low")} == {"open"}


def test_a_floor_that_is_not_enough_breaks_nothing_beyond_doubt():
    # hoop 85 bar x 21.9 mm over 1 mm is some 190 MPa, over 111
    found, _ = floored(550.0, jacket=1e-3)
    assert (found.verdict, found.nominal_kept) == ("open", False)
    assert found.nominal < 0.0
    hotter, _ = floored(705.0)
    assert (hotter.verdict, hotter.nominal) == ("open", None)
    assert "a floor for it, which ends at 700 K" in hotter.columns["nominal"].why


def test_the_jackets_own_strength_comes_before_a_floor():
    own = Allowables((293.15, 700.0), (437e6, 200e6))
    found = margin("jacket_stress", solved(closeout=Closeout(jacket_yield_strength=own)))
    assert found.limit is None or not found.columns["nominal"].indicative


def test_the_jackets_temperature_has_two_marks_that_inform():
    case = solved(closeout=NICKEL)
    load, soft = (margin(n, case) for n in ("jacket_load_temperature", "jacket_temperature"))
    assert (load.limit, soft.limit) == (pytest.approx(473.15), pytest.approx(673.15))
    assert (load.verdict, soft.verdict) == (None, None)


def test_the_proof_of_the_jacket_decides_for_it():
    thin = solved(closeout=Closeout(jacket=0.5e-3))
    assert margin("jacket_proof", thin).verdict == "fail"
    assert overall(margins(thin)) == "fail"
    no_yield = solved(closeout=Closeout(jacket_condition="watts"))
    found = margin("jacket_proof", no_yield)
    assert (found.verdict, found.columns["nominal"].indicative) == ("open", True)
    assert found.limit == pytest.approx(148e6)  # the floor, cold
    assert found.closes == "closeout.jacket_yield_strength"


def test_a_liner_without_strength_still_makes_it_unknown():
    case = solved("Cu-Cr-Nb-4-2", "lpbf-hip")
    for name in ("ligament_proof", "land_proof", "bond_stress", "jacket_proof"):
        found = margin(name, case)
        assert (found.verdict, found.nominal) == ("open", None)
        assert "lpbf-hip" in found.note
        assert found.closes == "liner.yield_strength"


def test_proof_and_bond_by_hand():
    # x = 0 has the hottest mean: 600 K, 220 MPa against 288 cold; the highest pressure is 90 bar
    p = 1.2 * 90e5 * 288.0 / 220.0
    bond = margin("bond_stress", solved(closeout=NICKEL))
    assert (bond.x_m, bond.limit) == (0.0, pytest.approx(50e6))
    assert bond.nominal == pytest.approx(1.0 - p / 50e6, rel=1e-9)  # w/b = 1 there
    assert "coupons" in bond.note
    lands = margin("land_proof", solved(closeout=NICKEL))
    assert lands.nominal == pytest.approx(1.0 - p / 288e6, rel=1e-9)
    wall = margin("ligament_proof", solved(closeout=NICKEL))
    assert wall.nominal == pytest.approx(1.0 - np.sqrt(0.75) * p / 288e6, rel=1e-9)
    assert "channels at 141 bar, bore at 47 bar" in wall.note
    assert "1.31 of the hot wall" in wall.note
    # steel at the lands' tips of the throat, 127 to 155 MPa, loses more than the copper alloy
    assert "of the jacket)" in margin("ligament_proof", solved()).note


def test_factors_of_the_case_count():
    # 463 MPa over 1.25 is 370, tensile 502 over 1.4 is 359: the lower one holds at 293 K
    cold = run(T_wall_hot_K=[293.15] * 3, T_wall_cold_K=[293.15] * 3)
    worked = solved("Cu-Cr-Zr", "44-percent-cold-worked", nominal=cold)
    assert margin("ligament_stress", worked).limit == pytest.approx(502e6 / 1.4)
    soft = solved("Cu-Cr-Zr", "44-percent-cold-worked", nominal=cold, limits={"ultimate_factor": 1})
    assert margin("ligament_stress", soft).limit == pytest.approx(463e6 / 1.25)
    cold_proof = margin("bond_stress", solved(limits={"proof_factor": 2.0}))
    usual = margin("bond_stress", solved())
    assert 1.0 - cold_proof.nominal == pytest.approx((1.0 - usual.nominal) * 2.0 / 1.2, rel=1e-9)


def test_many_designs_have_the_margins_of_each():
    each = [run(), run(wall_m=[0.6e-3] * 3), run(T_wall_hot_K=[650.0, 950.0, 500.0])]
    each.append(run(T_wall_hot_K=[980.0] * 3, T_wall_cold_K=[960.0] * 3))  # beyond every table
    columns = {k: np.stack([one.stations[k] for one in each]) for k in each[0].stations}
    totals = {k: np.array([one.totals[k] for one in each]) for k in each[0].totals}
    quiet = replace(find("Cu-Cr-Zr", "solution-annealed-aged"), beyond="nan")
    for closeout in (NICKEL, STEEL):
        case = replace(solved(closeout=closeout, nominal=Run(columns, totals)), alloy=quiet)
        for rule in rules(case, "strength", "thermal stress"):
            together = along(rule.limit, rule.compare, case.nominal)
            for n, one in enumerate(each):
                alone = replace(case, nominal=one)
                same = rules(alone, "strength", "thermal stress")
                (again,) = [one for one in same if one.limit == rule.limit]
                found = along(again.limit, again.compare, one)
                assert np.array_equal(together[0][n], found[0], equal_nan=True), rule.limit.name
                if found[1] is not None:
                    assert np.array_equal(together[1][n], found[1]), rule.limit.name


def test_what_a_run_of_no_designs_has():
    none = Run({k: v[None][:0] for k, v in run().stations.items()}, {})
    for rule in rules(solved(nominal=none), "strength", "thermal stress"):
        assert along(rule.limit, rule.compare, none)[0].shape == (0, 3)


def test_secondary_stress_informs_and_says_what_it_leaves_out():
    case = solved(closeout=NICKEL)
    for name in ("ratchet", "wall_buckling", "jacket_reaction"):
        assert margin(name, case).informative
    assert "no tangent_modulus" in margin("wall_buckling", case).note
    # throat: mean wall 600 K, E 108.6 GPa; free strain of wall less jacket since 300 K
    assert margin("jacket_reaction", case).nominal is None
    cold = run(T_wall_hot_K=[600.0, 700.0, 70.0], T_wall_cold_K=[450.0, 500.0, 60.0])
    found = margin("ratchet", solved(closeout=NICKEL, nominal=cold))
    assert "1 stations left out" in found.note
    assert found.nominal > 0.5


def test_thermal_stress_is_reported_but_decides_nothing():
    # x = 0: E 108.6 GPa, alpha 18.8e-6 at 600 K, dT 200 K, nu 0.34: 309.4 MPa against 440 MPa
    found = margin("thermal_stress", solved())
    assert found.informative
    assert found.nominal == pytest.approx(1.0 - 309.35 / 440.0, rel=1e-3)
    steep = run(T_wall_hot_K=[600.0, 799.0, 500.0], T_wall_cold_K=[450.0, 401.0, 400.0])
    case = solved(nominal=steep)
    assert margin("thermal_stress", case).columns["nominal"].state == "broken"
    assert margin("thermal_stress", case).verdict is None
    assert overall(margins(case)) == "pass"


def test_thermal_stress_without_expansion_is_unknown():
    found = margin("thermal_stress", solved("Cu-Ag-Zr", "solution-annealed-aged"))
    assert (found.verdict, found.columns["nominal"].state) == (None, "unknown")
    assert "thermal_expansion_instantaneous of Cu-Ag-Zr" in found.note


def test_thermal_stress_leaves_out_stations_colder_than_the_tables():
    cold = run(T_wall_hot_K=[600.0, 700.0, 70.0], T_wall_cold_K=[450.0, 500.0, 60.0])
    found = margin("thermal_stress", solved(nominal=cold))
    assert found.nominal == pytest.approx(margin("thermal_stress", solved()).nominal)
    assert "1 stations below 77 K left out" in found.note


def test_coolant_above_the_critical_pressure_against_its_properties_end():
    found = margin("coolant_temperature", solved())
    assert (found.limit, found.x_m, found.verdict) == (600.0, -0.10, "pass")
    hot = run(T_coolant_K=[620.0, 200.0, 150.0])
    assert margin("coolant_temperature", solved(nominal=hot)).verdict == "fail"


def test_coolant_below_the_critical_pressure_against_saturation():
    low = run(p_coolant_Pa=[40 * BAR] * 3, T_coolant_K=[171.0, 150.0, 120.0])
    found = margin("coolant_temperature", solved(nominal=low))
    assert (found.limit, found.verdict) == (180.0, "pass")
    assert found.nominal == pytest.approx(9.0 / 180.0)
    worse = run(p_coolant_Pa=[40 * BAR] * 3, T_coolant_K=[181.0, 150.0, 120.0])
    case = solved(nominal=low, worst=(low, worse))
    assert margin("coolant_temperature", case).verdict == "at risk"


def test_the_edge_of_boiling_is_at_the_lowest_pressure_of_the_band():
    low = run(p_coolant_Pa=[40 * BAR] * 3, T_coolant_K=[171.0, 150.0, 120.0])
    edge = {**low.stations, "p_coolant_Pa": np.full(3, 50 * BAR)}
    edge[LOWEST_PRESSURE] = low.stations["p_coolant_Pa"]
    case = solved(nominal=low, band=Run(edge, low.totals))
    found = margin("coolant_temperature", case)
    # the highest pressure, above the critical one, would say 600 K: better than nominal
    assert found.band_edge == pytest.approx(found.nominal, rel=1e-12)


def low_pressure(q):
    return run(
        p_coolant_Pa=[40 * BAR] * 3,
        T_coolant_K=[170.0, 150.0, 120.0],
        q_wetted_W_m2=[0.01 * q, q, 0.01 * q],
    )


def critical_at_the_throat():
    columns = low_pressure(1e6).stations
    flux = burnout_flux(facts(), columns)
    return flux.inlet[1], flux.outlet[1]


def test_burnout_by_hand():
    # throat: D 2*0.8*2.0/2.8 = 1.142857 mm, L 50 mm, G 10 000, r = 5, h_fg 3e5,
    # We = 1e8*1.142857e-3/(300*2e-3) = 190476, x_in = -0.6, x_out = -0.3
    # inlet: first = 0.0722*0.022526*0.354700 = 5.76879e-4, second = 0.9*3.206536 = 2.885882,
    #   q = 3e9*5.76879e-4*2.731529/(1 + 4*5.76879e-4*2.885882*43.75 = 1.291342) = 3.6607e6
    # outlet: first = 0.0332*0.057443*0.334196 = 6.37347e-4, 0.684*3.815425 = 2.609751
    #   q = 3e9*6.37347e-4*1.782925 = 3.4090e6
    inlet, outlet = critical_at_the_throat()
    assert inlet == pytest.approx(3.6607e6, rel=2e-4)
    assert outlet == pytest.approx(3.4090e6, rel=2e-4)


def test_burnout_takes_the_lower_form_and_half_of_it():
    lower = min(critical_at_the_throat())
    found = margin("burnout", solved(nominal=low_pressure(0.4 * lower)))
    assert found.limit == pytest.approx(0.5 * lower)
    assert found.nominal == pytest.approx(0.2, rel=1e-9)
    assert found.x_m == 0.0
    assert "3.66 MW/m2 by the inlet form, 3.41 by the outlet form" in found.note
    assert "unverified for methane" in found.note
    over = low_pressure(0.6 * lower)
    assert margin("burnout", solved(nominal=over, fluid="water")).verdict == "fail"
    risky = solved(nominal=low_pressure(0.4 * lower), band=over, fluid="water")
    assert margin("burnout", risky).verdict == "at risk"


def test_waters_burnout_form_only_indicates_for_another_fluid():
    lower = min(critical_at_the_throat())
    kept, over = low_pressure(0.4 * lower), low_pressure(0.6 * lower)
    found = margin("burnout", solved(nominal=kept))
    assert (found.verdict, found.nominal_kept, found.closes) == (
        "open",
        True,
        "limits.burnout_flux",
    )
    found = margin("burnout", solved(nominal=over))
    assert (found.verdict, found.nominal_kept) == ("open", False)
    assert found.nominal == pytest.approx(1.0 - 0.6 / 0.5)


def test_an_own_burnout_flux_or_fraction_closes_the_row():
    lower = min(critical_at_the_throat())
    case = low_pressure(0.6 * lower)
    own = margin("burnout", solved(nominal=case, limits={"burnout_flux": 2.0 * lower}))
    assert (own.verdict, own.source, own.closes) == ("pass", "given_in_case", "")
    assert own.nominal == pytest.approx(1.0 - 0.6)
    low = margin("burnout", solved(nominal=case, limits={"burnout_flux": lower}))
    assert low.verdict == "fail"
    share = margin("burnout", solved(nominal=case, limits={"burnout_fraction": 0.8}))
    assert (share.verdict, share.nominal) == ("pass", pytest.approx(1.0 - 0.6 / 0.8))


def test_burnout_says_where_its_range_is_left():
    slow = low_pressure(1e4)
    slow.stations["v_coolant_m_s"][2] = 0.1
    assert "range at 1 stations" in margin("burnout", solved(nominal=slow)).note
    assert "range at" not in margin("burnout", solved(nominal=low_pressure(1e4))).note


def test_burnout_is_asked_only_below_the_critical_pressure():
    assert "burnout" not in names(solved())
    worst = low_pressure(10e6)
    found = margin("burnout", solved(worst=worst))
    assert (found.nominal, found.limit, found.verdict) == (1.0, None, "open")


def test_coolant_mach():
    assert margin("coolant_mach", solved()).nominal == pytest.approx(1.0 - 0.07 / 0.3)
    fast = run(mach_coolant=[0.05, 0.31, 0.02])
    assert margin("coolant_mach", solved(nominal=fast)).verdict == "fail"
    assert margin("coolant_mach", solved(band=fast)).verdict == "at risk"


def test_pressure_left_for_the_injector():
    found = margin("injector_pressure", solved())
    # 75 - 30 bar left, 0.2*30 asked
    assert found.nominal == pytest.approx((45.0 - 6.0) / 6.0)
    assert (found.kind, found.x_m, found.limit) == ("min", -0.10, pytest.approx(6 * BAR))
    short = run({"coolant_pressure_out_Pa": 35 * BAR})
    assert margin("injector_pressure", solved(nominal=short)).verdict == "fail"
    assert margin("injector_pressure", solved(band=short)).verdict == "at risk"
    assert "injector_pressure" not in names(solved(feeds=False))


def test_a_propellant_of_which_it_is_not_said_whether_it_feeds_the_injector_is_open():
    found = margin("injector_pressure", solved(feeds=None))
    assert (found.verdict, found.nominal_kept) == ("open", False)
    assert found.closes == "coolant.feeds_injector"


def test_a_value_that_is_not_finite_is_unknown():
    odd = run(mach_coolant=[0.05, float("nan"), 0.02])
    found = margin("coolant_mach", solved(nominal=odd))
    assert (found.verdict, found.nominal) == ("open", None)


def test_notes_of_held_conductivity_flux_and_liner():
    quiet = notes(solved())
    assert [n.code for n in quiet] == ["liner"] * 4
    hot = run({"q_max_W_m2": 180e6}, T_wall_hot_K=[600.0, 1100.0, 500.0])
    found = {n.code: n for n in notes(solved(nominal=hot))}
    assert "held at 1100 K" in found["conductivity held"].text
    assert found["flux beyond experience"].x_m == 0.0
    assert "180 MW/m2" in found["flux beyond experience"].text
    unmelted = notes(solved("Cu-Ag-Zr", "solution-annealed-aged"))
    assert "melting not assessed" in [n.code for n in unmelted]


def known_sources():
    return tomllib.loads((COKING_FILE.parent / "sources.toml").read_text(encoding="utf-8"))


def test_coking_limits_are_sourced_and_of_known_coolants():
    entries = tomllib.loads(COKING_FILE.read_text(encoding="utf-8"))
    assert set(entries) <= set(get_args(CoolantFluid))
    for entry in entries.values():
        assert entry["unit"] == "K"
        assert 400.0 < entry["value"] < 1200.0
        assert entry["mark"] == known_sources()[entry["source"]]["mark"]


def test_sources_of_all_margins_resolve():
    known = known_sources()
    runs = [solved(), solved(nominal=low_pressure(1e6)), solved(fluid="propane")]
    for case in runs:
        for found in margins(case):
            assert found.source in known

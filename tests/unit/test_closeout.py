"""A plating plan of a design: what it takes, what it refuses, what each check says."""

import csv
import dataclasses
import io
import json

import numpy as np
import pytest
from rich.console import Console

from regen import design as d
from regen import sources
from regen.case.read import load_case
from regen.geometry.contour import build_contour
from regen.output import closeout
from regen.output.figures.closeout import layers_figure
from regen.output.page import Picture
from regen.output.table import Table
from regen.result import Finding
from regen.shop.plating.plan import plan_plating
from regen.shop.plating.values import PlanError

# three digits of a closed form
DIGITS = 5e-3


@pytest.fixture
def made(drawn_design, drawn_result):
    """Return a function (need, closeout keys, plating keys) -> plan of the invented chamber."""

    def make(need=None, result=None, closeout=None, coolant=None, liner=None, **plating):
        design = dataclasses.replace(
            drawn_design,
            plating=d.Plating(**plating),
            closeout=d.Closeout(**(closeout or {})),
            liner=liner or drawn_design.liner,
            coolant=coolant or drawn_design.coolant,
        )
        solved = result or drawn_result
        if need is not None:
            along = np.full(solved.stations["x_m"].size, 1.0) * need
            solved = dataclasses.replace(solved, checked={"jacket_needed_m": along})
        return plan_plating(design, solved)

    return make


def check(of, name):
    return next(one for one in of.checks if one.name == name)


def test_usual_shape_is_thinnest_at_the_throat(made):
    of = made()
    nickel = of.nickel
    i = nickel.thinnest
    assert abs(of.x[i]) < 0.02
    ratio = nickel.ratio
    assert ratio[[0, -1]] / ratio[i] == pytest.approx(1.3, rel=0.1)  # no station at the throat
    assert any("the throat" in note or "x = " in note for note in of.notes)
    assert any(one.key == "plating.nickel_profile" for one in of.values.assumed)


def test_a_coupon_map_counts_by_its_ratios_alone(made):
    x = (-0.1, 0.0, 0.05)
    one = made(nickel_profile=d.Profile(x, (1.2, 0.8, 1.1)))
    other = made(nickel_profile=d.Profile(x, (2.4, 1.6, 2.2)))
    assert one.nickel.deposit == pytest.approx(other.nickel.deposit, rel=1e-12)


def test_what_is_given_is_not_taken(made):
    of = made(nickel_efficiency=0.95, turn_each=2e-3, nickel_stress=20e6)
    keys = {one.key for one in of.values.assumed}
    assert not keys & {"plating.nickel_efficiency", "plating.turn_each", "plating.nickel_stress"}
    assert "plating.copper_efficiency" in keys
    for one in of.values.assumed:
        assert sources.find(one.source)
        assert one.mark in sources.MARKS


def test_every_check_names_a_source(made):
    for of in (made(), made(toughness=250.0, unbond=5e-3, wax_melts=343.0, copper_stress=-1e7)):
        names = [one.name for one in of.checks]
        assert len(set(names)) == len(names)
        for one in of.checks:
            assert sources.find(one.source)


def test_nickel_lies_on_the_copper_also_on_a_cone(made, drawn_design, drawn_result):
    of = made(closeout={"copper": 0.3e-3, "jacket": 3e-3}, ends="masked")
    s = drawn_result.stations
    contour = build_contour(drawn_design.contour)
    slope = contour.slope_angle(s["x_m"])
    assert np.abs(slope).max() > 0.2  # 11 degrees

    def outside(off):
        """Area of the cones through points so far out along the normals of wall, slot and layer."""
        off = 0.8e-3 + 2.0e-3 + off
        x, r = s["x_m"] - off * np.sin(slope), s["r_m"] + off * np.cos(slope)
        return np.sum(np.pi * (r[1:] + r[:-1]) * np.hypot(np.diff(x), np.diff(r)))

    first = of.nickel.steps[0]
    assert of.layers[0].steps[0].area_from == pytest.approx(outside(0.0), rel=1e-9)
    assert first.area_from == pytest.approx(outside(0.3e-3), rel=1e-9)
    finished = s["r_m"] + (2.8e-3 + 3.3e-3) * np.cos(slope)
    assert of.r_finished == pytest.approx(finished, rel=1e-9)
    # 3 mm of nickel, 8908 kg/m3, about its middle; its area is a parabola of the thickness
    parts = outside(0.3e-3) + 4.0 * outside(1.8e-3) + outside(3.3e-3)
    assert of.nickel.mass_left == pytest.approx(8908.0 * 3e-3 * parts / 6.0, rel=1e-9)


def test_need_is_compared_with_what_turning_leaves(made):
    assert check(made(), "nickel_need").verdict == "not checked"
    kept = check(made(need=2.9e-3), "nickel_need")
    assert (kept.verdict, kept.value) == ("kept", pytest.approx(2.95e-3))  # 3 mm less 0.05
    broken = check(made(need=2.96e-3), "nickel_need")
    assert broken.verdict == "broken"
    assert "at least 0.01 mm thicker" in broken.note


def test_need_that_is_unknown_in_places_is_said(made, drawn_result):
    need = np.full(9, 1e-3)
    need[3] = np.nan
    assert "not known at 1 stations" in check(made(need=need), "nickel_need").note
    assert check(made(need=np.nan), "nickel_need").verdict == "not checked"


def test_a_deposit_thinner_than_its_unevenness_leaves_is_caught(made):
    of = made(nickel_deposit=4.2e-3)
    one = check(of, "nickel_at_thinnest")
    assert one.verdict == "broken"
    for said in ("of its mean, 4.2 mm in all", "is needed for 3 mm drawn and 1 mm of stock"):
        assert said in one.note
    assert one in of.broken


@pytest.mark.parametrize(
    ("density", "verdict", "said"),
    [
        (200.0, "kept", "1.08 to 4.31 A/dm2"),
        (600.0, "watch", "outside this window stress and soundness"),
        (40.0, "broken", "+75 to +136 MPa"),
        (4000.0, "broken", "0.5 to 32 A/dm2"),
    ],
)
def test_current_density_has_a_window(made, density, verdict, said):
    one = check(made(nickel_current_density=density), "nickel_current_density")
    assert one.verdict == verdict
    assert said in one.note


def test_a_rate_beyond_faraday_is_broken(made):
    one = check(made(nickel_rate=7e-6 / 3600), "nickel_rate")
    assert one.verdict == "kept"
    assert "0.29 of the 23.8 um/h" in one.note  # 7/(12.29 x 0.97 x 2)
    fast = check(made(nickel_rate=25e-6 / 3600), "nickel_rate")
    assert fast.verdict == "broken"
    assert "24.6 um/h" in fast.note


def test_wax_and_bath_temperature(made):
    assert check(made(), "wax").verdict == "not checked"
    assert "60 degC" in check(made(), "wax").note  # 50 degC and 10 K
    assert check(made(wax_melts=273.15 + 58), "wax").verdict == "broken"
    assert check(made(wax_melts=273.15 + 61), "wax").verdict == "kept"
    hot = check(made(nickel_bath_temperature=273.15 + 65), "nickel_bath_temperature")
    assert hot.verdict == "broken"
    assert "breaks down" in hot.note


def test_debond_needs_a_toughness_and_says_how_to_get_it(made):
    one = check(made(), "stored_energy_1")
    assert one.verdict == "not checked"
    assert "plating.toughness" in one.note
    assert "coupon" in one.note
    # (1 - nu) s^2 h/E by hand: 0.69 x 40^2 MPa^2 x 4.x mm/180 GPa
    thick = made().nickel.as_plated.max()
    assert one.value == pytest.approx(0.69 * 1.6e15 * thick / 180e9, rel=DIGITS)


def test_watts_at_the_thickness_of_a_jacket_lifts_and_sulfamate_does_not(made):
    sulfamate = made(toughness=250.0)
    assert check(sulfamate, "stored_energy_1").verdict == "kept"
    watts = made(closeout={"jacket_condition": "watts"}, toughness=250.0)
    one = check(watts, "stored_energy_1")
    assert one.verdict == "broken"
    assert "the bond holds up to 2.9 mm at this stress" in one.note


def test_an_annealed_liner_yields_under_watts_nickel(made):
    soft = d.Liner("Cu-OFHC", "annealed", d.Profile.constant(2e-3))
    watts = made(closeout={"jacket_condition": "watts"}, liner=soft)
    assert check(watts, "liner_shrink").verdict == "broken"
    assert "yields or goes out of round" in check(watts, "liner_shrink").note
    hard = made(closeout={"jacket_condition": "watts"})
    assert check(hard, "liner_shrink").verdict == "kept"


def test_a_copper_layer_too_thin_buckles_over_the_slots(made):
    # 0.01 mm over 0.7 mm: pi^2 117 GPa (1/70)^2/(3 (1 - 0.34^2)) is 89 MPa
    thin = made(closeout={"copper": 0.01e-3}, copper_stress=-120e6)
    one = check(thin, "copper_buckling")
    assert one.verdict == "broken"
    assert "too thin" in one.note
    assert one.limit == pytest.approx(89e6, rel=DIGITS)
    assert check(made(copper_stress=-120e6), "copper_buckling").verdict == "kept"


def test_an_unbonded_patch_is_judged_by_roof_and_buckling(made):
    assert check(made(), "patch_buckling").verdict == "not checked"
    small, wide = made(unbond=5e-3), made(unbond=60e-3)
    assert check(small, "unbond").verdict == "kept"
    assert check(wide, "unbond").verdict == "broken"
    # t sqrt(2 x 437/1.25 MPa/9 MPa), 3 mm of nickel at the inlet's 90 bar
    assert check(small, "unbond").value == pytest.approx(26.4e-3, rel=DIGITS)


def test_yield_that_is_not_known_is_not_invented(made):
    one = check(made(closeout={"jacket_condition": "watts"}), "roof_bending")
    assert one.verdict == "not checked"
    assert one.value is None
    assert "is not tabulated" in one.note


def test_a_braze_after_the_nickel_is_refused_in_words(made):
    braze, bake = d.Heating("braze", 1208.15), d.Heating("bake", 478.15, 8 * 3600.0)
    late = made(closeout={"jacket_process": (braze, bake)})
    late_ones = [one for one in late.checks if one.name.startswith("heating_after_nickel")]
    assert [one.verdict for one in late_ones] == ["broken", "kept"]
    assert "must come before the nickel" in late_ones[0].note
    assert "braze at 935 degC" in late_ones[0].text


def hydrogen(drawn_design):
    return dataclasses.replace(drawn_design.coolant, fluid="hydrogen")


def test_hydrogen_asks_for_a_barrier(made, drawn_design):
    coolant = hydrogen(drawn_design)
    open_ = check(made(coolant=coolant), "hydrogen_barrier")
    assert open_.verdict == "not checked"
    assert "not a limit" in open_.note
    kept = check(made(coolant=coolant, barrier=0.15e-3), "hydrogen_barrier")
    assert (kept.verdict, kept.value) == ("kept", pytest.approx(0.15e-3))  # 0.2 drawn less 0.05
    thin = check(made(coolant=coolant, barrier=0.25e-3), "hydrogen_barrier")
    assert thin.verdict == "broken"
    assert "at least 0.1 mm thicker" in thin.note
    bare = check(made(coolant=coolant, closeout={"copper": 0.0}), "hydrogen_barrier")
    assert bare.verdict == "broken"


def test_hydrogen_names_metals_manifolds_and_welds(made, drawn_design):
    of = made(coolant=hydrogen(drawn_design))
    assert "extreme" in check(of, "hydrogen_jacket").text
    assert check(of, "hydrogen_liner").verdict == "not checked"  # no ratio of Cu-Cr-Zr
    note = check(of, "hydrogen_manifolds").note
    for said in ("manifolds", "welds", "15 %", "22 %"):
        assert said in note
    other = check(made(), "hydrogen_barrier")
    assert other.verdict == "told"
    assert "optional" in other.note


def test_no_plan_for_a_jacket_that_is_not_plated(made):
    closeout = {"route": "HIP-bonded", "jacket_alloy": "316L"}
    with pytest.raises(PlanError, match="nothing is plated") as caught:
        made(closeout=closeout)
    assert caught.value.key == "closeout.route"


def test_calendar_is_kept_apart_from_current(made):
    of = made(turn_time=10 * 3600.0)
    assert of.calendar_time == pytest.approx(of.on_time + 10 * 3600.0 * len(of.steps))
    low, high = of.calendar_range
    assert (low, high) == (pytest.approx(of.on_time / 0.2), pytest.approx(of.on_time / 0.05))


def test_all_keys_of_a_case(tmp_path):
    from regen.case.read import starter_text

    text = starter_text()
    head, _, tail = text.partition("\n[plating]")
    body, _, rest = tail.partition("\n\n[")
    lines = [line.removeprefix("# ") for line in body.splitlines()]
    opened = "\n".join(line for line in lines if not line.startswith("#"))
    path = tmp_path / "case.toml"
    path.write_text(f"{head}\n[plating]{opened}\n\n[{rest}", encoding="utf-8")
    of = load_case(path).design.plating
    for field in dataclasses.fields(of):
        assert getattr(of, field.name) not in (None, 0.0), field.name
    assert of.nickel_current_density == pytest.approx(200.0)
    assert of.nickel_rate == pytest.approx(20e-6 / 3600)
    assert of.turn_time == pytest.approx(86400.0)
    assert of.extra_area == pytest.approx(0.01)
    assert of.toughness == pytest.approx(250.0)


class FakeCase:
    def __init__(self, design):
        self.design, self.hash = design, "abc"


def test_files_hold_the_plan(made, drawn_design, tmp_path):
    of = made(need=2e-3)
    written = closeout.write(of, FakeCase(drawn_design), tmp_path)
    assert [path.name for path in written][-1] == "plating.json"
    found = json.loads(written[-1].read_text())
    assert found["layers"][1]["mean_deposit_m"] == of.nickel.deposit
    names = {"plating.csv", "plating_sheet.html", "figures/plating_layers.svg"}
    assert set(found["files"]) == names
    rows = list(csv.DictReader(io.StringIO((tmp_path / "plating.csv").read_text())))
    assert list(rows[0]) == list(closeout.columns(of))
    assert float(rows[2]["nickel_finished_m"]) == pytest.approx(3e-3)
    assert float(rows[2]["nickel_need_m"]) == pytest.approx(2e-3)


def test_table_leaves_empty_what_is_not_known(made):
    rows = list(csv.DictReader(io.StringIO(Table.of_arrays(closeout.columns(made())).csv())))
    assert {row["nickel_need_m"] for row in rows} == {""}


def test_json_has_no_number_that_is_none(made, drawn_design):
    of = made(coolant=hydrogen(drawn_design))
    text = json.dumps(closeout.plan_object(of, FakeCase(drawn_design)), allow_nan=False)
    assert "hydrogen_barrier" in text


LAYERS = Picture("plating_layers", "layers", b"<svg/>")


def test_sheet_has_steps_checks_cautions_and_escapes(made, drawn_design):
    of = made(nickel_deposit=4.2e-3)
    page = closeout.sheet(of, drawn_design, LAYERS)
    assert "Linnet &lt;b&gt;&amp;" in page
    assert "<b>&" not in page
    for said in ("BROKEN", "nickel 1", "silver powder", "toxic", "licensed", "Products Finishing"):
        assert said in page
    assert page.count('<td></td><td class="text"></td></tr>') == len(of.steps)
    assert "http" not in page
    assert closeout.sheet(of, drawn_design, LAYERS) == page
    assert "<figure " in page
    bare = closeout.sheet(of, drawn_design, "figure plating_layers failed")
    assert "<figure " not in bare
    assert "figure plating_layers failed" in bare


def test_terminal_says_what_is_broken_and_what_is_missing(made):
    console = Console(record=True, width=100, file=io.StringIO())
    of = made(wax_melts=320.0)
    for part in closeout.summary(of):
        console.print(part, highlight=False, markup=False)
    shown = " ".join(console.export_text().split())
    for said in (
        f"{len(of.broken)} broken",
        "wax",
        "BROKEN",
        "not checked",
        "turnings",
        "5 to 20 % of the calendar",
    ):
        assert said in shown, said


def test_figure_shows_need_and_layers(made):
    figure = layers_figure(made(need=2e-3))
    labels = {t.get_text() for t in figure.axes[0].get_legend().get_texts()}
    assert "needed by strength" in labels
    assert len(figure.axes) == 2
    assert len(layers_figure(made(closeout={"copper": 0.0})).axes) == 1


def test_words_of_units():
    assert closeout.shown(323.15, "K", "nickel_bath_temperature") == "50 degC"
    assert closeout.shown(673.15, "K", "jacket_softening") == "673 K"
    assert closeout.shown(200.0, "A/m2") == "2.00 A/dm2"
    assert closeout.shown(7e-6 / 3600, "m/s") == "7.00 um/h"


def test_stress_beyond_the_quality_limit_is_watched(made):
    assert check(made(), "nickel_stress").verdict == "kept"
    assert check(made(nickel_stress=-60e6), "nickel_stress").verdict == "watch"
    assert "measure it each shift" in check(made(), "nickel_stress").note


def test_the_jacket_is_as_hot_as_the_strength_checks_found(made, drawn_result):
    cold = dataclasses.replace(drawn_result, checked={"T_jacket_K": np.full(9, 400.0)})
    assert check(made(result=cold), "jacket_softening").value == 400.0
    assert check(made(result=cold), "jacket_softening").verdict == "kept"
    # without them a plain fin, between bulk and channel root
    s = drawn_result.stations
    hot = check(made(), "jacket_softening").value
    assert s["T_coolant_K"].max() < hot < s["T_wall_cold_K"].max()


def test_what_the_need_rests_on_is_told(made, drawn_result):
    rests = Finding("structure", "jacket_needed", "", 1e-3, "m", "common_practice", 0.0, "at proof")
    solved = dataclasses.replace(drawn_result, findings=(rests,))
    assert "at proof" in check(made(need=1e-3, result=solved), "nickel_need").note

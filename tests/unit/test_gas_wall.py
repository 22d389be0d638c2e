"""What the case adds to the gas beside the wall: film, layer, radiation, factors, and refusals."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from regen.case.read import load_case
from regen.checks.review import review
from regen.errors import RangeError
from regen.gas.wall import barrel_share, hot_gas_table, wall_gas
from regen.geometry.circuits import surface_resistance
from regen.geometry.contour import build_contour
from regen.physics import arrays as A
from regen.physics.march import gas_at
from regen.solver.prepare import prepare
from regen.texts import text
from tests.helpers.places import CASES

BARE, FILM = "c-ethanol-bare", "c-ethanol-film"
INTERPOLATED = 0.004  # of the driving enthalpy, between mixtures 0.02 in mass fraction apart
SAME_GAS = 1e-4  # nozzle pressure found for the injector's, against given: 1e-6, and its tables


def case(name: str, *overrides: str):
    return load_case(CASES / f"{name}.toml", overrides)


def design_of(name: str, *overrides: str):
    return case(name, *overrides).design


def core_of(name: str, *overrides: str):
    prepared = prepare(design_of(name, *overrides))
    return prepared, prepared.rows.joined([prepared.gas.core[0, 0]])


# --- film ------------------------------------------------------------------------------------
def test_a_film_says_what_came_of_it():
    prepared, core = core_of(FILM)
    (note,) = (note for note in prepared.notes if "until it is fitted" in note.text)
    # mixture ratio 1.2 of the core, 1.4 times its fuel
    assert "40.0% of the fuel" in note.text
    assert "overall mixture ratio 0.857" in note.text
    assert "it wets 15" in note.text
    # share at the throat by hand: a twentieth of the core's p/c* past the dry wall mixes in; c* is
    # that of 2430 K, 0.92 of 1670 m/s, brought to the hottest core's 2800 K as the root
    x, r = prepared.passage.x, prepared.passage.r
    dry = (x >= prepared.film.dry_at) & (x <= 0.0)
    x, r = np.append(prepared.film.dry_at, x[dry]), np.append(r[dry][0], r[dry])
    passing = 11.93e5 / 1650.0 * 2.0 * np.pi * 0.0195**2 / r
    slant = np.hypot(np.diff(x), np.diff(r))
    passed = np.sum(0.5 * (passing[1:] + passing[:-1]) * slant)
    share = 0.169 / (0.169 + 0.05 * passed)
    said = float(note.text.split("at the throat ")[1].split("%")[0]) / 100.0
    assert said == pytest.approx(share, abs=0.01)  # printed to a per cent
    wet = prepared.passage.x < prepared.film.dry_at
    assert 35 < wet.sum() < 75
    # where ethanol boils at the local pressure (equation of state), 430.7 K at 11.8 bar
    boils = [PropsSI("T", "P", p, "Q", 0, "Ethanol") for p in core[wet, A.G_P]]
    assert core[wet, A.G_T_AW] == pytest.approx(boils, abs=0.3)  # at the hottest core's p
    assert np.all(np.diff(core[~wet, A.G_T_AW]) > 0.0)


def test_every_node_of_returned_heat_has_the_film():
    prepared, _ = core_of(FILM)
    nodes = prepared.gas.core[0]
    wet = nodes[0, :, A.G_RADIATION] == 0.0
    bare = prepare(design_of(BARE)).gas.core[0]
    assert nodes.shape[0] > 1
    assert np.all(nodes[:, wet, A.G_T_AW] < 0.9 * bare[:, wet, A.G_T_AW])
    core, stag = np.empty(nodes.shape[1:]), np.empty(A.N_STAGNATION)
    h0 = 0.5 * (prepared.gas.h0[0, 0] + prepared.gas.h0[0, 1])
    gas_at(prepared.gas, 0, h0, core, stag)
    low, high = nodes[:2, :, A.G_T_AW]
    assert np.all((core[:, A.G_T_AW] >= low - 0.5) & (core[:, A.G_T_AW] <= high + 0.5))


def test_a_dense_film_is_a_gas_from_the_start_and_said_so():
    # propane: critical pressure 42.5 bar
    sets = ('film.fluid="propane"', 'film.mass_flow="0.05 kg/s"', 'chamber.pressure="60 bar"')
    prepared, core = core_of(FILM, *sets, 'coolant.inlet_pressure="120 bar"')
    texts = [note.text for note in prepared.notes if note.code == "film"]
    assert any("above its critical pressure, 42.5 bar" in text for text in texts)
    assert not any("wets" in text or "overall" in text for text in texts)
    assert prepared.film.dry_at is None
    assert prepared.film.effectiveness[0] == 1.0
    # an adiabatic wall is never colder than the film, although a dense fluid's enthalpy lies
    # below that of its vapour as an ideal gas
    assert core[:, A.G_T_AW].min() == pytest.approx(293.0, abs=0.01)


def test_a_cryogenic_gas_film_is_colder_than_the_gas_data_begin():
    sets = ('film.fluid="hydrogen"', 'film.mass_flow="0.02 kg/s"', 'film.state="gas"')
    _, core = core_of(FILM, *sets, 'film.temperature="120 K"')
    # below 200 K the vapour's enthalpy goes on in a straight line
    assert core[0, A.G_T_AW] == pytest.approx(120.0, abs=5.0)


def test_a_fast_slot_is_no_layer():
    slot = ('film.model="slot"', 'film.state="gas"', 'film.temperature="450 K"')
    quick, slow = (
        prepare(design_of(FILM, *slot, f'film.slot_height="{height} mm"')).notes
        for height in (0.05, 2)
    )
    assert any("a jet mixes faster" in note.text for note in quick)
    assert not any("a jet mixes faster" in note.text for note in slow)


@pytest.mark.parametrize(
    ("name", "sets", "words"),
    [
        # methane boils at 175 K at 30 bar, and leaves the jacket as a dense gas
        ("a-methane", (), ("112 K", "jacket's outlet", 'and film.state = "gas"')),
        # ethanol leaves it below the 431 K at which it boils
        (BARE, (), ("298 K", "give film.temperature = about 3")),
        (BARE, ('film.temperature="293 K"',), ()),  # given: nothing to ask
        ("d-water-calorimeter", (), ()),  # the jacket's water is not the film
    ],
)
def test_a_film_from_storage_says_what_to_give_if_it_comes_from_the_jacket(name, sets, words):
    result = review(design_of(name, 'film.mass_flow="0.3 fuel"', *sets))
    texts = [note.text for note in result.notes if "storage temperature" in note.text]
    assert len(texts) == bool(words)
    for word in words:
        assert word in texts[0]
    if name == BARE and words:
        assert "film.state" not in texts[0]
        T_out = round(result.summary["coolant_temperature_out_K"], -1)
        assert f"about {T_out:.0f} K" in texts[0]


REFUSED = {
    "hotter than the gas": (
        [
            "chamber.combustion_efficiency=0.5",
            *('film.state="gas"', 'film.temperature="990 K"'),
        ],
        ["film.temperature: ethanol at 990 K is no cooler than the gas", "accepted: below that"],
    ),
    "beyond the throat": (['film.injected_at="5 mm"'], ["film.injected_at: 5 mm", "beyond", "-16"]),
    "outside": (['film.injected_at="-500 mm"'], ["film.injected_at: -500 mm", "outside"]),
    "at the throat": (['film.injected_at="0 mm"'], ["film.injected_at: 0 mm", "below 0 mm"]),
    "more than the fuel": (
        ['film.mass_flow="2 kg/s"'],
        ["film.mass_flow: 2 kg/s", "a fuel flow of 0.4", "at most the fuel flow"],
    ),
    "too hot to be a liquid": (
        ['film.temperature="450 K"'],
        ["film.temperature: ethanol at 450 K is no liquid", "below saturation, 43", '"gas"'],
    ),
    "too cold to be a gas": (
        ['film.state="gas"'],
        ["film.temperature: ethanol at 293 K is no gas", "above saturation, 43", '"liquid"'],
    ),
}


@pytest.mark.parametrize(("sets", "words"), REFUSED.values(), ids=REFUSED)
def test_a_film_that_makes_no_sense_is_refused(sets, words):
    design = design_of(FILM, *sets)
    with pytest.raises(RangeError) as caught:
        prepare(design)
    for word in words:
        assert word in str(caught.value)


# --- wall layer of another mixture ratio ---------------------------------------------------------
def layer_case(*ratio: str):
    return design_of(
        BARE, 'film.model="layer mixture ratio"', *(f"film.layer_mixture_ratio={r}" for r in ratio)
    )


def drive(gas, T=800.0):
    """h_aw - h_w at T in (S,) [J/kg]."""
    nodes = gas.layer_T[0, 0] + gas.layer_T[0, 1] * np.arange(gas.layer.shape[2])
    h = np.array([np.interp(T, nodes, row) for row in gas.layer[0, :, :, A.LAYER_H]])
    return gas.core[0, 0, :, A.G_H_AW] - h


def test_a_layer_of_the_cores_mixture_is_the_core():
    layered, bare = (prepare(d).gas for d in (layer_case("1.2"), design_of(BARE)))
    assert drive(layered) == pytest.approx(drive(bare), rel=SAME_GAS)
    for field in (A.G_T_AW, A.G_H, A.G_RHO, A.G_U):
        assert layered.core[0, 0, :, field] == pytest.approx(
            bare.core[0, 0, :, field], rel=SAME_GAS
        )


@pytest.mark.parametrize(("core", "ratio"), [(1.2, 0.7), (0.7, 1.9)])  # the second far hotter
def test_a_layer_is_the_gas_of_a_chamber_at_its_mixture_ratio(core, ratio):
    def gas(design, mixture_ratio):
        pair = replace(design.propellants, mixture_ratio=mixture_ratio)
        return prepare(replace(design, propellants=pair)).gas

    layered, bare = gas(layer_case(str(ratio)), core), gas(design_of(BARE), core)
    own = gas(design_of(BARE), ratio)
    # a chamber of that mixture at the same injector pressure has almost the same nozzle's
    assert drive(layered) == pytest.approx(drive(own), rel=2e-3)
    assert layered.core[0, 0, :, A.G_T_AW] == pytest.approx(own.core[0, 0, :, A.G_T_AW], rel=2e-3)
    # the velocity's part stays that of the core, and so do flow and pressure
    recovered = [g.core[0, 0, :, A.G_H_AW] - g.core[0, 0, :, A.G_H] for g in (layered, bare)]
    assert recovered[0] == pytest.approx(recovered[1], abs=1.0)
    for field in (A.G_P, A.G_RHO, A.G_U, A.G_X_EFF):
        np.testing.assert_array_equal(layered.core[..., field], bare.core[..., field])
    np.testing.assert_array_equal(layered.stagnation, bare.stagnation)


def test_a_layer_that_mixes_out_is_interpolated_in_fuel():
    pairs = '[["-163 mm", 0.6], ["0 mm", 1.2]]'
    prepared = prepare(layer_case(pairs))
    x = prepared.passage.x
    i = int(np.argmin(np.abs(x + 80.0e-3)))
    ratio = float(np.interp(x[i], [-0.163, 0.0], [0.6, 1.2]))
    direct = prepare(layer_case(f"{ratio:.9g}"))
    k = x.size - 1 - i  # rows of the core follow the coolant, from the nozzle
    found, expected = drive(prepared.gas)[k], drive(direct.gas)[k]
    assert found == pytest.approx(expected, rel=INTERPOLATED)
    assert prepared.notes[0].text.startswith(
        "the gas beside the wall burns at a mixture ratio of 0.6 to 1.2"
    )


def test_a_layer_too_rich_warns_of_soot():
    prepared = prepare(layer_case("0.45"))
    assert any(text("soot in the core") in note.text for note in prepared.notes)
    assert not any(text("soot in the core") in one for one in prepared.gas_table.notes)


def test_ahead_of_its_beginning_the_layer_is_the_cores():
    design = layer_case("0.7")
    later = replace(design, film=replace(design.film, injected_at=-0.05))
    bare, found = (prepare(d) for d in (design_of(BARE), later))
    x = np.flip(bare.passage.x)  # as the rows of the core
    ahead = x < -0.0501
    np.testing.assert_array_equal(found.gas.core[:, :, ahead], bare.gas.core[:, :, ahead])
    assert np.all(drive(found.gas)[~ahead] < 0.9 * drive(bare.gas)[~ahead])


# --- radiation -----------------------------------------------------------------------------------
def test_radiation_is_full_in_the_barrel_and_ends_at_the_throat():
    bare, barrel, everywhere = (
        core_of("a-methane", *sets)
        for sets in ((), ('models.radiation="barrel"',), ('models.radiation="everywhere"',))
    )
    x = bare[0].passage.x
    q = [core[:, A.G_RADIATION] for _, core in (bare, barrel, everywhere)]
    assert np.all(q[0] == 0.0)
    assert np.all(q[1][x >= 0.0] == 0.0)
    assert np.all(q[2] > 0.0)
    in_barrel = x < -0.1
    np.testing.assert_array_equal(q[1][in_barrel], q[2][in_barrel])
    assert np.all(np.diff(q[1][~in_barrel & (x <= 0.0)]) <= 0.0)


def test_radiation_says_its_share_and_how_uncertain_it_is():
    result = review(design_of("a-methane", 'models.radiation="barrel"'))
    (note,) = (note for note in result.notes if note.code == "radiation")
    assert "to within a factor of two" in note.text
    assert "of all heat" in note.text
    plain = review(design_of("a-methane"))
    assert result.summary["heat_total_W"] > 1.03 * plain.summary["heat_total_W"]
    assert "leckner1972" in result.provenance["sources"]
    assert "leckner1972" not in plain.provenance["sources"]


def test_radiation_of_a_gas_without_water_or_carbon_dioxide_is_refused():
    design = design_of("a-methane", 'models.radiation="barrel"')
    contour = build_contour(design.contour)
    table = hot_gas_table(design, (contour.contraction_ratio, contour.area_ratio_exit))
    series = table.series.copy()
    series[..., -2:] = 0.0
    series[..., 0, -2:] = np.log(1e-12)  # a trace everywhere
    with pytest.raises(RangeError, match='models.radiation = "barrel".*accepted: "off"'):
        wall_gas(design, contour, replace(table, series=series), np.linspace(-0.1, 0.05, 20))


def test_the_share_of_the_barrel_falls_with_the_area():
    ratio, x = np.array([6.0, 3.5, 1.0, 4.0]), np.array([-0.1, -0.03, 0.0, 0.06])
    assert barrel_share(ratio, x, 6.0) == pytest.approx([1.0, 0.5, 0.0, 0.0])


# --- factors and resistances -----------------------------------------------------------------
def test_the_mixing_factor_multiplies_the_fitted_ones():
    sets = ("models.barrel_factor=0.5", "models.throat_factor=0.8")
    pairs = 'models.mixing_factor=[["-150 mm", 0.4], ["-100 mm", 1.0]]'
    plain, mixed = (core_of("a-methane", *sets, *more) for more in ((), (pairs,)))
    x = plain[0].passage.x
    times = np.interp(x, [-0.15, -0.10], [0.4, 1.0])
    assert mixed[1][:, A.G_FACTOR] == pytest.approx(times * plain[1][:, A.G_FACTOR])
    assert any(n.code == "mixing factor" and "0.4 to 1" in n.text for n in mixed[0].notes)


def test_coating_and_deposit_are_in_series():
    design = design_of(
        "a-methane",
        'liner.coating=[["-100 mm", "0.2 mm"], ["0 mm", "0.1 mm"]]',
        'liner.coating_conductivity="2 W/(m K)"',
        'models.deposit_resistance="3e-5 m2 K/W"',
    )
    x = np.array([-0.1, -0.05, 0.0, 0.05])
    # 0.2, 0.15, 0.1, 0.1 mm over 2 W/(m K)
    expected = np.array([1e-4, 7.5e-5, 5e-5, 5e-5]) + 3e-5
    assert surface_resistance(design, x) == pytest.approx(expected, rel=1e-12)
    assert np.all(surface_resistance(design_of("a-methane"), x) == 0.0)


# --- freezing --------------------------------------------------------------------------------
def test_the_freezing_temperature_is_another_table():
    drives = [
        drive(prepare(design_of("a-methane", f'models.freeze_temperature="{T} K"')).gas)
        for T in (6000, 1500, 300)
    ]
    # the longer the gas stays at equilibrium, the more it gives on its way to the wall
    assert np.all(drives[0] < drives[1])
    assert np.all(drives[1] < drives[2])

"""Hot gas: every propellant, balances, cache, and the table over total enthalpy."""

from __future__ import annotations

import dataclasses
import pickle

import numpy as np
import pytest

from regen.design import Chamber, Propellants
from regen.errors import RangeError
from regen.gas import feeds as feed
from regen.gas import nozzle as hotgas_nozzle
from regen.gas import table as hotgas
from regen.gas.feeds import ATOMIC_MASS, SPECIES, feed_enthalpy, reactants
from regen.gas.phase import Mixture, mixture
from regen.physics import arrays as A
from regen.physics.march import gas_at

pytestmark = pytest.mark.usefixtures("fresh_cache")

# tolerance of the solves: enthalpy to 1e-9 of temperature, elements to rounding
SOLVED, ROUNDED = 1e-7, 1e-10

PAIRS = {
    "oxygen, hydrogen": Propellants("oxygen", "hydrogen", 6.0),
    "oxygen, hydrogen, both gas": Propellants("oxygen", "hydrogen", 6.0, "gas", "gas"),
    "oxygen, methane": Propellants("oxygen", "methane", 3.0),
    "oxygen, methane, both gas": Propellants("oxygen", "methane", 3.0, "gas", "gas"),
    "oxygen, ethanol": Propellants("oxygen", "ethanol", 1.2),
    "gaseous oxygen, propane": Propellants("oxygen", "propane", 2.4, "gas", "liquid", 293.0, 231.0),
    "oxygen, warm propane gas": Propellants("oxygen", "propane", 2.4, "liquid", "gas", None, 320.0),
    "oxygen, hot ethanol gas": Propellants("oxygen", "ethanol", 1.5, "gas", "gas", None, 450.0),
    "oxygen, RP-1": Propellants("oxygen", "RP-1", 2.4),
    "peroxide, RP-1": Propellants("hydrogen-peroxide", "RP-1", 7.0, oxidizer_concentration=0.9),
    "pure peroxide, ethanol": Propellants("hydrogen-peroxide", "ethanol", 4.0),
    "oxygen, ethanol with water": Propellants("oxygen", "ethanol", 1.0, fuel_water=0.25),
    "oxygen, isopropanol": Propellants("oxygen", "isopropanol", 1.6),
    "nitrous oxide, ethanol": Propellants("nitrous-oxide", "ethanol", 4.0),
    "nitrous oxide gas, propane gas": Propellants(
        "nitrous-oxide", "propane", 8.0, "gas", "gas", 320.0, 320.0
    ),
    "nitrous oxide, hydrogen gas": Propellants("nitrous-oxide", "hydrogen", 12.0, "liquid", "gas"),
}
PRESSURE = 10e5


def test_the_pairs_name_every_propellant():
    assert {p.oxidizer for p in PAIRS.values()} | {p.fuel for p in PAIRS.values()} == set(SPECIES)


@pytest.mark.parametrize("pair", PAIRS.values(), ids=PAIRS)
def test_chamber_conserves_elements_and_energy(pair):
    fed = reactants(pair, pressure=PRESSURE)
    # atoms of a kilogram weigh a kilogram
    assert sum(n * ATOMIC_MASS[e] for e, n in fed.elements.items()) == pytest.approx(
        1.0, rel=ROUNDED
    )
    m = mixture(fed.elements)
    m.equilibrium_enthalpy(fed.enthalpy, PRESSURE)
    gas = m.gas
    assert gas.enthalpy_mass == pytest.approx(fed.enthalpy, abs=SOLVED * gas.cp_mass * gas.T)
    for element, moles in fed.elements.items():
        held = gas.elemental_mass_fraction(element)
        assert held == pytest.approx(moles * ATOMIC_MASS[element], rel=1e-8)
    assert pair.fuel == "propane" or 2000.0 < gas.T < 3800.0


@pytest.mark.parametrize("pair", PAIRS.values(), ids=PAIRS)
def test_flame_temperature_is_that_of_the_librarys_own_solver(pair):
    fed = reactants(pair, pressure=PRESSURE)
    m = mixture(fed.elements)
    m.equilibrium_enthalpy(fed.enthalpy, PRESSURE)
    ours = m.gas.T
    # started from burnt gas near the answer, where its enthalpy setter converges
    m.equilibrium_at(ours - 150.0, PRESSURE)
    m.gas.HP = fed.enthalpy, PRESSURE
    m.gas.equilibrate("HP", rtol=1e-10)
    assert ours == pytest.approx(m.gas.T, rel=1e-7)


@pytest.mark.parametrize("pair", PAIRS.values(), ids=PAIRS)
@pytest.mark.parametrize("expansion", ["shifting", "frozen", "frozen at throat"])
def test_every_pair_expands(pair, expansion):
    table = hotgas.gas_table(
        pair,
        Chamber(PRESSURE, "injector", 1.0, expansion),
        contraction_ratio=5.0,
        area_ratio_max=4.0,
    )
    stations = at_areas(table, [5.0, 1.5, 1.0, 2.0, 4.0], [0, 0, 0, 1, 1])
    core = stations.core[0, 0]
    for field in (A.G_P, A.G_T, A.G_RHO, A.G_MU, A.G_K, A.G_CP):
        assert np.all(core[:, field] > 0.0)
    assert np.all(np.diff(core[:, A.G_P]) < 0.0)
    assert np.all(np.diff(core[:, A.G_MACH]) > 0.0)
    assert np.all(np.isfinite(stations.layer))
    assert np.all(np.diff(stations.layer[0, :, :, A.LAYER_H], axis=-1) > 0.0)


def at_areas(table, area_ratio, downstream):
    return hotgas.gas_at_stations(
        table,
        np.asarray(area_ratio, dtype=float),
        np.asarray(downstream, dtype=bool),
        factor=np.ones(len(area_ratio)),
        throat_diameter=0.04,
        throat_curvature=0.02,
    )


# --- feeds -------------------------------------------------------------------------------------
def test_a_warmer_feed_brings_its_heat():
    cold, warm = (
        feed_enthalpy("methane", phase="liquid", temperature=T, pressure=9e6, fixed=True)
        for T in (120.0, 400.0)
    )
    from CoolProp.CoolProp import PropsSI

    direct = PropsSI("Hmass", "T", 400.0, "P", 9e6, "Methane")
    direct -= PropsSI("Hmass", "T", 120.0, "P", 9e6, "Methane")
    # a kilogram: molar masses of the two libraries differ by 1e-5
    assert warm - cold == pytest.approx(direct, rel=3e-5)


def test_a_dilute_gas_at_the_reference_temperature_has_its_heat_of_formation():
    for name in ("oxygen", "hydrogen", "methane", "propane", "nitrous-oxide"):
        h = feed_enthalpy(name, phase="gas", temperature=298.15, pressure=100.0)
        # 100 Pa: the real-gas departure is below 1 J/mol
        assert h * SPECIES[name].molar_mass == pytest.approx(SPECIES[name].formation, abs=1.0)


@pytest.mark.parametrize("name", ["oxygen", "hydrogen", "methane", "ethanol", "propane"])
def test_heats_of_formation_are_those_of_the_species_file(name):
    import cantera as ct

    file_name = {
        "oxygen": "O2",
        "hydrogen": "H2",
        "methane": "CH4",
        "ethanol": "C2H5OH",
        "propane": "C3H8",
    }[name]
    species = {s.name: s for s in ct.Species.list_from_file("nasa_gas.yaml")}[file_name]
    assert SPECIES[name].formation == pytest.approx(species.thermo.h(298.15) / 1e3, abs=2.0)


REFUSED = {
    "RP-1 as a gas": (Propellants("oxygen", "RP-1", 2.4, fuel_state="gas"), "accepted is liquid"),
    "propane gas that is liquid": (
        Propellants("oxygen", "propane", 2.4, fuel_state="gas", fuel_temperature=290.0),
        "would be liquid at the chamber pressure of 10 bar",
    ),
    "oxygen above its critical point": (
        Propellants("oxygen", "methane", 3.0, oxidizer_temperature=200.0),
        "feed it as a gas",
    ),
    "oxygen below its triple point": (
        Propellants("oxygen", "methane", 3.0, oxidizer_temperature=40.0),
        "triple point",
    ),
    "peroxide that would decompose": (
        Propellants("hydrogen-peroxide", "RP-1", 7.0, oxidizer_temperature=400.0),
        "272.7 to 350 K",
    ),
    "diluted oxygen": (
        Propellants("oxygen", "methane", 3.0, oxidizer_concentration=0.9),
        "only hydrogen-peroxide is diluted",
    ),
    "weak peroxide": (
        Propellants("hydrogen-peroxide", "RP-1", 7.0, oxidizer_concentration=0.3),
        "0.5 to 1",
    ),
    "water in methane": (
        Propellants("oxygen", "methane", 3.0, fuel_water=0.1),
        "only liquid ethanol and isopropanol are diluted",
    ),
    "water in ethanol gas": (
        Propellants("oxygen", "ethanol", 1.5, "gas", "gas", None, 450.0, fuel_water=0.1),
        "with ethanol fed as a gas; only liquid",
    ),
    "more water than alcohol": (
        Propellants("oxygen", "ethanol", 1.0, fuel_water=0.6),
        "0 to 0.5",
    ),
    "isopropanol that boils": (
        Propellants("oxygen", "isopropanol", 1.6, fuel_temperature=360.0),
        "250 to 355 K",
    ),
    "isopropanol as a gas": (
        Propellants("oxygen", "isopropanol", 1.6, fuel_state="gas"),
        "accepted is liquid",
    ),
    "no fuel": (Propellants("oxygen", "methane", 1e4), "0.05 to 100"),
}


@pytest.mark.parametrize(("pair", "text"), REFUSED.values(), ids=REFUSED)
def test_feeds_that_cannot_be_are_refused(pair, text):
    with pytest.raises(RangeError, match=text):
        reactants(pair, pressure=PRESSURE)


def test_an_expansion_too_cold_for_the_species_data_is_refused():
    with pytest.raises(RangeError, match="species data"):
        hotgas.gas_table(
            Propellants("oxygen", "hydrogen", 0.6),
            Chamber(1e5, "nozzle"),
            contraction_ratio=4.0,
            area_ratio_max=60.0,
        )


def methane(expansion="shifting", returns=False, efficiency=1.0):
    return hotgas.gas_table(
        Propellants("oxygen", "methane", 3.0),
        Chamber(30e5, "injector", efficiency, expansion),
        contraction_ratio=6.0,
        area_ratio_max=5.0,
        fuel_feed=(120.0, 90e5) if returns else None,
    )


AREAS, SIDES = [6.0, 2.0, 1.0, 3.0, 5.0], [0, 0, 0, 1, 1]


# --- the table over total enthalpy -------------------------------------------------------------
# four nodes over 20 to 200 K of flame temperature: measured 2e-5 (see the builder's count)
ENTHALPY_NODES = 3e-5


@pytest.mark.parametrize("fraction", [0.12, 0.5, 0.85])
@pytest.mark.parametrize("fuel", ["methane", "hydrogen", "ethanol"])
def test_returned_heat_is_interpolated_as_if_built_for_it(fuel, fraction):
    ratio, p, inlet = {
        "methane": (3.0, 30e5, (120.0, 90e5)),
        "hydrogen": (6.0, 60e5, (45.0, 120e5)),
        "ethanol": (1.2, 12e5, (293.0, 45e5)),
    }[fuel]
    pair, chamber = Propellants("oxygen", fuel, ratio), Chamber(p)
    table = hotgas.gas_table(
        pair, chamber, contraction_ratio=6.0, area_ratio_max=5.0, fuel_feed=inlet
    )
    stations = at_areas(table, AREAS, SIDES)
    h0 = table.h0[0] + fraction * (table.h0[-1] - table.h0[0])
    core, stag = np.empty((len(AREAS), A.N_CORE)), np.empty(A.N_STAGNATION)
    gas_at(stations, 0, h0, core, stag)

    m = Mixture(reactants(pair, pressure=p, fuel_feed=inlet).elements)
    direct = hotgas_nozzle.expand(m, chamber, h0, 6.0, 5.0, None)
    z = hotgas_nozzle.flow_coordinate(np.array(AREAS), np.array(SIDES, dtype=bool))
    branch = direct.upstream
    state = branch.at(z)
    fields = (A.G_P, A.G_T, A.G_U, A.G_MACH, A.G_MU, A.G_K, A.G_CP)  # in the order of a series
    np.testing.assert_allclose(core[:, fields], state[:, :7], rtol=ENTHALPY_NODES)
    assert stag[A.S_T0] == pytest.approx(direct.nozzle[hotgas_nozzle.N_T0], rel=ENTHALPY_NODES)
    assert stag[A.S_CSTAR] == pytest.approx(
        direct.nozzle[hotgas_nozzle.N_CSTAR], rel=ENTHALPY_NODES
    )


def test_fuel_from_the_channels_warms_the_chamber():
    table = methane(returns=True)
    T0 = table.nozzle[:, hotgas_nozzle.N_T0]
    # methane from 120 to 900 K is about 2.6 MJ/kg of fuel, a quarter of the flow, over an
    # equilibrium heat capacity of 5 to 8 kJ/(kg K)
    assert 80.0 < T0[-1] - T0[0] < 130.0
    assert np.all(np.diff(T0) > 0.0)


# --- cache and workers -------------------------------------------------------------------------
def test_a_table_read_back_is_the_table_built(monkeypatch):
    first = methane("frozen")

    def never(*args, **kwargs):
        raise AssertionError("built again")

    monkeypatch.setattr(hotgas, "_build", never)
    again = methane("frozen")
    for name in (f.name for f in dataclasses.fields(first) if f.name != "notes"):
        np.testing.assert_array_equal(getattr(again, name), getattr(first, name))
    assert again.notes == first.notes


def test_a_feed_known_before_needs_no_equation_of_state(monkeypatch):
    def h():
        return feed_enthalpy("oxygen", phase="liquid", temperature=91.0, pressure=1e5)

    first = h()

    def never(*args):
        raise AssertionError("asked again")

    monkeypatch.setattr(feed, "_enthalpy", never)
    assert h() == first
    # a liquid is saturated, whatever the chamber pressure; another temperature is another state
    feed_enthalpy("oxygen", phase="liquid", temperature=91.0, pressure=5e6)
    with pytest.raises(AssertionError, match="asked again"):
        feed_enthalpy("oxygen", phase="liquid", temperature=92.0, pressure=1e5)


def test_reference_transport_survives_pickling():
    m = Mixture({"H": 10.0, "O": 5.0})
    m.equilibrium_at(3000.0, 50e5)
    copy = pickle.loads(pickle.dumps(m))  # as a worker process gets it
    copy.equilibrium_at(3000.0, 50e5)
    assert copy.gas.viscosity == m.gas.viscosity
    assert copy.gas.thermal_conductivity == m.gas.thermal_conductivity
    # the phase alone, pickled, goes back to the kinetic theory of the species file
    bare = pickle.loads(pickle.dumps(m.gas))
    bare.TPX = m.gas.TPX
    assert abs(bare.viscosity / m.gas.viscosity - 1.0) > 0.02


def test_each_thread_has_its_own_mixture():
    from concurrent.futures import ThreadPoolExecutor

    elements = {"H": 10.0, "O": 5.0}
    with ThreadPoolExecutor(1) as pool:
        other = pool.submit(mixture, elements).result()
    assert mixture(elements) is mixture(elements)
    assert other is not mixture(elements)


@pytest.mark.parametrize(
    ("efficiency", "searched"),
    [(1.0, 0), (0.95, 7)],  # expansions on few nodes that the search for the deficit takes
)
def test_a_table_takes_few_equilibria(monkeypatch, efficiency, searched):
    """About 0.1 ms each: 45 ms for four nodes of enthalpy and the wall layer, 10 of the search."""
    counts = {"equilibrium_at": 0, "equilibrium_entropy": 0}

    def count(name):
        solve = getattr(Mixture, name)

        def counted(self, *args):
            counts[name] += 1
            return solve(self, *args)

        monkeypatch.setattr(Mixture, name, counted)

    for name in counts:
        count(name)
    pair = Propellants("oxygen", "methane", 2.9)
    feed_state = (120.0, 90e5)
    hotgas.gas_table(
        pair,
        Chamber(30e5, combustion_efficiency=efficiency),
        contraction_ratio=6.0,
        area_ratio_max=5.0,
        fuel_feed=feed_state,
    )
    # a node: 22 along the nozzle, 10 to the throat for its pressure, 2 for each exponent
    assert counts["equilibrium_entropy"] <= (4 + searched) * (10 + 2) + 4 * (22 + 2) + 2 * 12
    # 7 pressures of 18 temperatures beside the wall, and the flame temperatures
    assert counts["equilibrium_at"] <= 7 * 18 + (9 + searched) * 8

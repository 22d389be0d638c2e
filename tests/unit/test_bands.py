"""Who is a member of a band, why others are not, and that members make its edges."""

from __future__ import annotations

import numpy as np
import pytest

from regen.case.read import load_case
from regen.checks.review import review
from regen.gas import flux
from regen.output.review import excluded, nominal_basis
from regen.physics import arrays as A
from regen.physics._dispatch import BOILING, COOLANT_SIDE, GAS_SIDE
from regen.physics.registry import CORRELATIONS
from regen.solver import bands
from regen.solver.models import chosen_models, coolant_choice, member_names
from regen.solver.prepare import prepare
from regen.solver.solve import solve
from tests.helpers.places import CASES

HYDROGEN = {"taylor", "mccarthy_wolf", "hess_kunz", "miller"}
KEROSENE = {"hines_wolf", "utrc_kerosene", "nasa_kerosene", "textbook_kerosene"}
LIQUID = {"gnielinski", "sieder_tate", "dittus_boelter", "petukhov_kirillov_popov"}
WATER = {"bishop", "mokry", "swenson", "petukhov1983"}
FLUIDS = ("hydrogen", "methane", "oxygen", "ethanol", "propane", "n-dodecane", "water")


def design_of(name: str, *overrides: str):
    return load_case(CASES / f"{name}.toml", overrides).design


@pytest.mark.parametrize("p_r", [0.1, 0.99, 1.0, 1.1, 2.0, 9.0])
@pytest.mark.parametrize("T_r", [0.4, 1.3])
@pytest.mark.parametrize("fluid", FLUIDS)
def test_every_form_is_a_member_or_has_a_reason(fluid, p_r, T_r):
    choice = bands.coolant_side(fluid, p_r, T_r)
    assert set(choice.members) | set(choice.excluded) == set(COOLANT_SIDE)
    assert not set(choice.members) & set(choice.excluded)
    assert all(choice.excluded.values())
    assert choice.text
    assert all(CORRELATIONS[name].fits(fluid) for name in choice.members)


def test_hydrogen_has_its_four_and_nothing_else():
    assert set(bands.coolant_side("hydrogen", 9.0, 1.0).members) == HYDROGEN
    assert bands.coolant_side("hydrogen", 9.0, 1.0).members[0] == "miller"
    solution = solve(design_of("b-hydrogen"))
    assert all(member.ok for member in solution.members)
    assert {member.name.split(" + ")[1] for member in solution.members} == HYDROGEN
    assert "optimistic" in solution.excluded["gnielinski"]
    assert solution.excluded["spencer_rousar"] == "fitted to oxygen"


def test_defaults_of_the_other_coolants():
    default = {
        (fluid, p_r): bands.coolant_side(fluid, p_r, 0.5).members[0]
        for fluid in FLUIDS
        for p_r in (0.5, 2.0)
    }
    assert default["methane", 2.0] == "krasnoshchekov_protopopov"
    assert default["propane", 2.0] == "krasnoshchekov_protopopov"
    assert default["oxygen", 2.0] == "spencer_rousar"
    for fluid, p_r in (("water", 0.5), ("ethanol", 0.5), ("oxygen", 0.5), ("n-dodecane", 2.0)):
        assert default[fluid, p_r] == "gnielinski"


def test_liquids_take_the_forms_of_liquids_and_kerosene_its_own_too():
    for fluid in ("water", "ethanol"):
        assert set(bands.coolant_side(fluid, 0.5, 0.5).members) == LIQUID
    for p_r in (0.9, 3.0):
        assert set(bands.coolant_side("n-dodecane", p_r, 0.5).members) == LIQUID | KEROSENE


# The data of Bishop and of Swenson end at 27.6 MPa; the critical pressure of water is 22.064 MPa.
END_OF_DATA = 27.6 / 22.064


def test_forms_of_near_critical_water_join_where_their_data_are():
    assert pytest.approx(END_OF_DATA, abs=0.005) == bands.NEAR_CRITICAL_PRESSURE
    for p_r, T_r, join in ((1.1, 0.9, True), (1.3, 0.9, False), (1.1, 1.1, False)):
        choice = bands.coolant_side("methane", p_r, T_r)
        assert WATER <= set(choice.members if join else choice.excluded)
        assert ("near-critical" in choice.text) == join
    far = bands.coolant_side("methane", 1.96, 0.9).excluded
    assert "enters at 1.96" in far["bishop"]
    assert "pseudo-critical" in bands.coolant_side("methane", 1.1, 1.1).excluded["bishop"]
    # hydrogen and kerosene have forms of their own
    assert not WATER & set(bands.coolant_side("hydrogen", 1.1, 0.9).members)
    assert not WATER & set(bands.coolant_side("n-dodecane", 1.1, 0.9).members)


def test_boiling_forms_of_water_are_for_water():
    assert bands.boiling("water").members == ("thom", "cooper")
    assert bands.boiling("ethanol").members == ("cooper",)
    assert bands.boiling("ethanol").excluded == {"thom": "fitted to water"}
    assert set(BOILING) == {"thom", "cooper"}


def test_a_member_taken_out_of_the_registry_takes_its_edge_along(monkeypatch):
    design = design_of("d-water-calorimeter", "models.stations=31")

    def fluxes():
        solution = solve(design)
        return {m.name.split(" + ")[1]: [] for m in solution.members}, {
            m.name: float(m.station[:, A.O_Q].max()) for m in solution.members
        }

    names, q = fluxes()
    hottest = max(q, key=q.__getitem__).split(" + ")[1]
    assert hottest in names
    rest = {name: number for name, number in COOLANT_SIDE.items() if name != hottest}
    monkeypatch.setattr(bands, "COOLANT_SIDE", rest)
    names_after, q_after = fluxes()
    assert set(names_after) == set(names) - {hottest}
    assert max(q_after.values()) < max(q.values()) * (1.0 - 1e-4)
    # and nothing else has moved
    assert all(q_after[name] == q[name] for name in q_after)


FRICTION_APART = 0.01  # two friction forms that differ in kind; Haaland and Colebrook do not
WALL_APART = 0.1  # K


@pytest.mark.parametrize("name", ["a-methane", "b-hydrogen", "d-water-calorimeter"])
def test_as_many_members_are_said_as_there_are_different_ones(name):
    """No two of them have the same walls and the same pressure drop."""
    result, solution = review(design_of(name)), solve(design_of(name))
    members = [member for member in solution.members if member.ok]
    for band in result.bands.values():
        assert band.members == tuple(member.name for member in members)
    said = next(note.text for note in result.notes if note.code == "basis")
    assert f"of {len(members)} solved members" in said
    walls = np.array([m.station[:, A.O_T_WALL_HOT] for m in members])
    drops = np.array([m.total[A.T_P_IN] - m.total[A.T_P_OUT] for m in members])
    for n, member in enumerate(members):
        near = np.abs(walls[:n] - walls[n]).max(axis=1, initial=0.0) < WALL_APART
        near &= np.abs(drops[:n] / drops[n] - 1.0) < FRICTION_APART
        assert not near.any(), (member.name, members[int(np.argmax(near))].name)


def test_one_friction_formula_counts_once_whichever_way_it_is_named():
    assert bands.friction().members == ("colebrook", "heated_wall")
    assert bands.friction("heated_wall").members == ("colebrook", "heated_wall")
    assert bands.friction("haaland").members == ("haaland", "heated_wall")
    assert bands.friction("haaland").excluded == {"colebrook": "the same formula as haaland"}
    solution = solve(design_of("d-water-calorimeter", "models.friction=haaland"))
    assert {m.name.split(" + ")[2] for m in solution.members} == {"haaland", "heated_wall"}
    assert solution.excluded["colebrook"] == "the same formula as haaland"
    assert len(solution.members) == 6 * len(LIQUID) * 2


def test_friction_of_heated_walls_costs_less_pressure():
    """Liquids are thinner at the wall, dense fluids lighter: both lower friction."""
    for name in ("a-methane", "d-water-calorimeter"):
        drops = {}
        for member in solve(design_of(name)).members:
            gas, coolant, friction = member.name.split(" + ")
            drops.setdefault((gas, coolant), {})[friction] = (
                member.total[A.T_P_IN] - member.total[A.T_P_OUT] if member.ok else np.nan
            )
        pairs = [(d["heated_wall"], d["colebrook"]) for d in drops.values()]
        assert all(not heated > 0.95 * usual for heated, usual in pairs)


def marched(*overrides: str) -> dict[str, np.ndarray]:
    solution = solve(design_of("a-methane", "models.stations=31", *overrides))
    return {m.name: m.station for m in solution.members} | {"nominal": solution.nominal.station}


def test_the_low_member_is_the_closed_form_at_the_throat_factor_it_says():
    """Marched by its own field of the core, it is the case that gives the factor."""
    assert flux.LOW_THROAT == "bartz x 0.6 at the throat"
    member = marched()[f"{flux.LOW_THROAT} + krasnoshchekov_protopopov + colebrook"]
    given = marched("models.throat_factor=0.6")
    np.testing.assert_allclose(member, given["nominal"], rtol=1e-9)
    assert not any(name.startswith(flux.LOW_THROAT) for name in given)


def test_the_low_member_keeps_a_barrel_that_was_fitted():
    member = marched("models.barrel_factor=0.5")[
        f"{flux.LOW_THROAT} + krasnoshchekov_protopopov + colebrook"
    ]
    nominal = marched("models.barrel_factor=0.5")["nominal"]
    q = member[:, A.O_Q] / nominal[:, A.O_Q]
    assert q.min() == pytest.approx(0.62, abs=0.03)  # a cooler wall takes up a little more
    assert q[0] == pytest.approx(1.0, abs=0.06)  # the barrel, its coolant less warm


def test_a_throat_fitted_by_the_case_replaces_the_low_member_and_it_says_so():
    result = review(design_of("c-ethanol-measured"))
    assert result.excluded[flux.LOW_THROAT] == bands.FITTED
    assert not any(flux.LOW_THROAT in name for name in result.bands["q_max_W_m2"].members)
    assert not any(note.code == "measured throats" for note in result.notes)
    bare = review(design_of("c-ethanol-bare"))
    assert flux.LOW_THROAT not in bare.excluded
    (note,) = (note.text for note in bare.notes if note.code == "measured throats")
    assert "lie below" in note
    assert "above" in note
    assert {"schacht1965", "quentmeyer_cylinder"} <= set(bare.provenance["sources"])


def test_the_low_member_makes_the_lower_edge_of_throat_flux():
    """Case A: at 0.6 of the closed form, less where the coolant-side form has a hotter wall."""
    solution = solve(design_of("a-methane"))
    throat = int(np.argmin(solution.prepared.passage.r))
    nominal = solution.nominal.station[throat, A.O_Q]
    q = {m.name: m.station[throat, A.O_Q] / nominal for m in solution.members if m.ok}
    lowest = min(q, key=q.__getitem__)
    assert lowest.startswith(flux.LOW_THROAT)
    assert 0.55 < q[lowest] < 0.62
    assert min(v for name, v in q.items() if flux.LOW_THROAT not in name) > 0.62


def test_the_basis_chooses_the_gas_side_where_none_is_named():
    assert set(flux.BASIS.values()) <= set(bands.gas_side().members)
    for overrides, name in (
        ((), "bartz"),
        (("models.basis=design",), "bartz"),
        (("models.basis=best estimate",), "reference_enthalpy"),
        (("models.gas_side=pipe_film",), "pipe_film"),
    ):
        models = design_of("d-water-calorimeter", *overrides).models
        assert flux.nominal_gas_side(models) == name
        assert name in GAS_SIDE


def test_basis_and_rank_are_said_in_result_and_report():
    result = review(design_of("d-water-calorimeter", "models.basis=best estimate"))
    band = result.bands["T_wall_hot_max_K"]
    assert result.provenance["models"]["gas_side"] == "reference_enthalpy"
    assert result.provenance["basis"] == "best estimate"
    basis = nominal_basis(result)
    for part in (
        'reference_enthalpy (models.basis "best estimate")',
        f"number {band.rank} of {len(band.members)}",
        "forms of liquids",
    ):
        assert part in basis
    conservative = review(design_of("d-water-calorimeter"))
    assert conservative.bands["T_wall_hot_max_K"].rank > band.rank
    named = review(design_of("d-water-calorimeter", "models.gas_side=bartz"))
    assert "named by the case" in nominal_basis(named)
    assert named.provenance["basis"] is None
    assert named.summary == conservative.summary


def test_what_is_left_out_for_one_reason_is_said_once():
    result = review(design_of("d-water-calorimeter"))
    rows = [line.split(": ", 1) for line in excluded(result)]
    reasons = [reason for _, reason in rows]
    assert len(set(reasons)) == len(reasons)
    names = {name for together, _ in rows for name in together.split(", ")}
    assert names == set(result.excluded)


def test_the_members_named_by_the_rule_are_those_of_the_solution():
    solution = solve(design_of("a-methane", "models.stations=31"))
    p_r = 90e5 / solution.prepared.coolant.p_critical
    T_r = 120.0 / 220.0  # anything below the pseudo-critical
    choice = bands.coolant_side("methane", p_r, T_r)
    assert {m.name.split(" + ")[1] for m in solution.members} == set(choice.members)
    assert chosen_models(solution.prepared)["coolant_side"] == choice.members[0]
    assert np.all([solution.excluded[name] for name in choice.excluded])


def test_a_general_form_for_hydrogen_is_noted_and_one_of_its_own_is_not():
    notes = design_of("b-hydrogen", "models.coolant_side=gnielinski").notes
    assert any('coolant_side = "gnielinski"' in n and "mccarthy_wolf" in n for n in notes)
    for name in ("hess_kunz", "taylor"):
        own = design_of("b-hydrogen", f"models.coolant_side={name}").notes
        assert not any("general form" in note for note in own)
    methane = design_of("a-methane", "models.coolant_side=gnielinski").notes
    assert not any("general form" in note for note in methane)


@pytest.mark.parametrize("name", ["a-methane", "b-hydrogen", "c-ethanol-film"])
def test_members_differ_in_every_role(name):
    """Gas side, coolant side and friction: each has at least two forms, and all are combined."""
    prepared = prepare(design_of(name))
    names, _ = member_names(chosen_models(prepared), coolant_choice(prepared))
    forms = {role: {one[role] for one in names} for role in names[0]}
    assert set(forms) == {"gas_side", "coolant_side", "friction"}
    for role, of_role in forms.items():
        assert len(of_role) >= 2, role
    assert len({tuple(one.values()) for one in names}) == len(names)

"""The uncertainty study with a model in a line: what is sampled, counted, kept and told."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from time import sleep

import numpy as np
import pytest
from matplotlib.text import Text

from regen import sources
from regen.case.read import load_case
from regen.checks.review import review
from regen.design import Profile
from regen.errors import CaseError
from regen.output import uncertainty as output
from regen.output.figures import uncertainty as figures
from regen.output.uncertainty import uncertainty_object, write
from regen.studies.batch.designs import RUNS, DesignBatch, Rows, solve_batch
from regen.studies.batch.parameters import applied, numeric_key
from regen.studies.uncertainty import indices
from regen.studies.uncertainty import study as uncertainty
from regen.studies.uncertainty.distributions import RESTED_ON, inputs_of
from regen.studies.uncertainty.study import EVERY, along, check_samples, quantiles, study
from tests.helpers.places import CASES

NAMES = {
    "gas_side": ("bartz", "pipe_film"),
    "coolant_side": ("gnielinski", "jackson"),
    "friction": ("colebrook", "haaland"),
    "boiling": ("cooper",),
}
ROUNDING = 1e-12
WIDTH, WALL = "channels.width=uniform 0.03 mm", "liner.wall=uniform 0.05 mm"
GAS = "models.gas_side=any"
STATIONS = np.linspace(-0.1, 0.05, 7)


@pytest.fixture(scope="module")
def design():
    return load_case(CASES / "a-methane.toml").design


@pytest.fixture(scope="module")
def calorimeter():
    return load_case(CASES / "d-water-calorimeter.toml").design


def inputs(design, *texts):
    return inputs_of(design, texts, lambda: NAMES)


def model(batch: DesignBatch, along: bool) -> Rows:
    """Wall temperature 800 K + 100 K for each half-width of width and wall; a limit of 820 K.

    A wall 0.04 mm too thick stops the march; a slot 0.02 mm too wide has a stress that cannot be
    evaluated.
    """
    width, wall = batch.values[:, 0] / 0.03e-3, (batch.values[:, 1] - 0.8e-3) / 0.05e-3
    T = 800.0 + 100.0 * (width + wall)
    stops = wall > 0.8
    unknown = ~stops & (width > 2.0 / 3.0)
    values = np.where(stops, np.nan, T)
    hot = 1.0 - values / 820.0
    stress = np.where(unknown, np.nan, np.where(stops, np.nan, 0.2))
    verdict = np.where(hot >= 0.0, "pass", "fail").astype(object)
    verdict[unknown & (hot >= 0.0)] = "open"
    verdict[stops] = ""
    nothing = np.full(len(batch), np.nan)
    margins = {
        "hot_wall_temperature": hot,
        "ligament_stress": stress,
        "burnout": np.where(stops, np.nan, 0.5),
        "thermal_stress": np.where(stops, np.nan, -0.1),
    }
    return Rows(
        status=np.where(stops, "choked", "solved").astype(object),
        reason=np.where(stops, "not solved: choked. What to do: open it.", "").astype(object),
        x_stop=np.where(stops, 0.01, np.nan),
        summary={
            "T_wall_hot_max_K": values,
            "coolant_pressure_drop_Pa": np.where(stops, np.nan, 20e5 - 1e5 * width),
            "coolant_temperature_out_K": np.where(stops, np.nan, 500.0),
            "q_max_W_m2": np.where(stops, np.nan, 30e6),
        },
        margins={
            n: {"nominal": m, "band_edge": nothing, "worst_channel": nothing}
            for n, m in margins.items()
        },
        informative=frozenset({"thermal_stress"}),
        verdict=verdict,
        nominal_kept=verdict == "pass",
        along={"T_wall_hot_K": values[:, None] - 1000.0 * np.abs(STATIONS)} if along else {},
        x=np.repeat(STATIONS[None], len(batch), axis=0) if along else None,
    )


@pytest.fixture(scope="module")
def found(design):
    chosen, _ = inputs(design, WIDTH, WALL)
    return study(design, chosen, model, samples=64, seed=4)


def held(found):
    return found.rows.nominal_kept


def base_values(found):
    values = found.batch.values[: found.base]
    return values[:, 0] / 0.03e-3, (values[:, 1] - 0.8e-3) / 0.05e-3


def test_what_is_told_is_the_direct_count_over_both_base_samples(found):
    width, wall = base_values(found)
    T = 800.0 + 100.0 * (width + wall)
    stops = wall > 0.8
    unknown = ~stops & (width > 2.0 / 3.0)
    cool = ~stops & (T <= 820.0)
    kept = {one.limit: one for one in found.kept}
    assert {one.count for one in found.kept} == {128}
    assert {one.not_solved for one in found.kept} == {int(stops.sum())}
    assert kept[EVERY].kept == int((cool & ~unknown).sum())
    assert kept[EVERY].not_evaluated == int((cool & unknown).sum())
    assert kept["hot_wall_temperature"].kept == int(cool.sum())
    assert kept["hot_wall_temperature"].broken == int((~stops & ~cool).sum())
    assert kept["ligament_stress"].kept == int((~stops & ~unknown).sum())
    assert kept["ligament_stress"].not_evaluated == int(unknown.sum())
    assert kept["thermal_stress"].informative
    assert kept["thermal_stress"].broken == int((~stops).sum())
    one = kept[EVERY]
    assert one.probability == one.kept / 128
    assert (one.low, one.high) == indices.wilson(one.kept, 128)


def test_a_limit_that_a_part_does_not_know_makes_no_demand_there(design, monkeypatch):
    chosen, _ = inputs(design, WIDTH, WALL)
    monkeypatch.setattr(uncertainty, "PART", 1)

    def forgetful(batch, along):
        rows = model(batch, along)
        known = batch.values[0, 0] <= 0.0
        names = [name for name in rows.margins if name != "burnout" or known]
        return replace(rows, margins={name: rows.margins[name] for name in names})

    some = study(design, chosen, forgetful, samples=64, seed=4)
    width, wall = base_values(some)
    solved = wall <= 0.8
    assert 0 < (width <= 0.0).sum() < width.size
    kept = {one.limit: one for one in some.kept}["burnout"]
    assert (kept.kept, kept.not_evaluated) == (int(solved.sum()), 0)


def test_designs_that_are_not_solved_stand_at_the_bad_end():
    values = np.array([5.0, np.nan, 1.0, 3.0] * 5)
    assert quantiles(values, "T_wall_hot_max_K").tolist() == [1.0, 1.0, 3.0, 5.0, np.inf]
    assert quantiles(values, "least_margin").tolist() == [-np.inf, -np.inf, 1.0, 3.0, 5.0]


def test_the_least_margin_is_over_the_limits_that_decide(found):
    least = found.outputs["least_margin"]
    margins = {name: runs["nominal"] for name, runs in found.rows.margins.items()}
    known = found.rows.solved & np.isfinite(margins["ligament_stress"])
    assert np.array_equal(np.isfinite(least), known)
    deciding = np.stack(
        [margins[n] for n in ("hot_wall_temperature", "ligament_stress", "burnout")]
    )
    assert least[known] == pytest.approx(deciding.min(axis=0)[known])


def test_whether_every_limit_is_kept_has_indices_from_every_design(found):
    used = found.indices["every_limit_kept"].used
    assert used.tolist() == [64, 64]
    assert max(found.indices["T_wall_hot_max_K"].used) < 64
    # of a yes or no, both indices of an input come from counts alone
    kept = held(found).reshape(-1, 64).astype(float)
    p = kept[:2].mean()
    total = 0.5 * np.mean((kept[2:] - kept[0]) ** 2, axis=1) / (p * (1.0 - p))
    assert found.indices["every_limit_kept"].total == pytest.approx(total)


def test_inputs_lie_within_their_reach_and_models_are_drawn_alike(design):
    chosen, _ = inputs(design, WIDTH, "coolant.inlet_temperature=normal 2 K", GAS)
    batches = []

    def keep(batch, along):
        batches.append(batch)
        rows = model(replace(batch, values=np.full((len(batch), 2), 0.8e-3)), along)
        return replace(rows, status=np.full(len(batch), "solved", dtype=object))

    study(design, chosen, keep, samples=256, seed=1)
    base = batches[0]
    assert len(base) == 512
    assert np.abs(base.values[:, 0]).max() <= 0.03e-3
    assert base.values[:, 1].mean() == pytest.approx(120.0, abs=0.1)
    assert base.values[:, 1].std() == pytest.approx(2.0 * 0.98658, rel=0.02)  # cut at 3
    assert np.abs(base.values[:, 1] - 120.0).max() <= 6.0
    names = base.models["gas_side"]
    assert [names.count(name) for name in NAMES["gas_side"]] == [256, 256]
    assert sum(len(batch) for batch in batches) == 256 * (3 + 2)
    # the last part is A with the model from B: nothing else differs
    assert np.array_equal(batches[-1].values, base.values[:256])
    assert batches[-1].models["gas_side"] == names[256:]


def test_the_same_seed_gives_the_same_numbers_however_it_is_cut(design, found, monkeypatch):
    chosen, _ = inputs(design, WIDTH, WALL)
    monkeypatch.setattr(uncertainty, "PART", 7)
    again = study(design, chosen, model, samples=64, seed=4)
    assert uncertainty_object(again) == uncertainty_object(found)
    other = study(design, chosen, model, samples=64, seed=5)
    assert not np.array_equal(other.batch.values, found.batch.values)


def test_bands_along_x_take_the_unsolved_as_hottest(found):
    T = found.outputs["T_wall_hot_max_K"][: found.base]
    whole = np.sort(np.where(np.isnan(T), np.inf, T))
    at = found.along
    assert at.how == ""
    assert np.array_equal(at.x, STATIONS)
    middle = whole[int(np.ceil(0.5 * found.base)) - 1]
    assert at.T_wall_hot[2] == pytest.approx(middle - 1000.0 * np.abs(STATIONS))
    assert np.isinf(at.T_wall_hot[4]).all()  # a tenth is not solved


def test_stations_that_move_are_interpolated_over_what_all_have_cooled():
    x = np.stack([STATIONS, 1.1 * STATIONS])
    T = 700.0 + 1000.0 * x  # one straight profile in x
    T[1] += 10.0
    at = along(x, T, None)
    assert "interpolated in x" in at.how
    assert at.x == pytest.approx(STATIONS)  # within those of the longer one
    assert at.T_wall_hot[0] == pytest.approx(700.0 + 1000.0 * STATIONS)
    assert at.T_wall_hot[-1] == pytest.approx(710.0 + 1000.0 * STATIONS)
    short = along(np.stack([STATIONS, 0.9 * STATIONS]), T, None)
    assert short.x.tolist() == STATIONS[1:-1].tolist()


def test_stations_of_several_passes_are_taken_by_number():
    twice = np.repeat(STATIONS, 2)
    x = np.stack([twice, 1.1 * twice, 1.2 * twice])
    at = along(x, np.full(x.shape, 700.0), None)
    assert "by station number" in at.how
    assert at.x == pytest.approx(1.1 * twice)


def test_a_part_of_which_nothing_is_solved_keeps_its_place(design, monkeypatch):
    # such a part has no stations
    chosen, _ = inputs(design, WIDTH, WALL)
    monkeypatch.setattr(uncertainty, "PART", 1)

    def bare(batch, along):
        rows = model(batch, along)
        return rows if rows.solved.any() else replace(rows, x=None, along={})

    cut = study(design, chosen, bare, samples=64, seed=4)
    monkeypatch.undo()
    whole = study(design, chosen, model, samples=64, seed=4)
    assert np.array_equal(cut.along.T_wall_hot, whole.along.T_wall_hot)


def test_no_solved_design_has_no_bands():
    assert along(None, None, None) is None
    assert along(STATIONS[None], np.full((1, 7), np.nan), None) is None


def test_usual_inputs_are_marked_and_say_what_was_left_out(design):
    chosen, left_out = inputs(design)
    by_path = {one.path: one for one in chosen}
    assert {"channels.width", "channels.depth", "liner.wall"} <= set(by_path)
    assert by_path["channels.width"].why == "tolerance of [shop]"
    assert by_path["channels.width"].reach == pytest.approx((-0.03e-3, 0.03e-3))
    assert by_path["channels.depth"].reach == pytest.approx((-0.05e-3, 0.05e-3))
    assert by_path["liner.wall"].reach == pytest.approx((0.75e-3, 0.85e-3))
    assert by_path["propellants.mixture_ratio"].why == "common practice"
    assert by_path["propellants.mixture_ratio"].reach == pytest.approx((2.82, 3.18))
    assert by_path["chamber.pressure"].width == pytest.approx(0.45e5)
    assert by_path["models.conductivity_factor"].width == pytest.approx(0.05)
    assert by_path["channels.roughness_Ra"].reach == pytest.approx((0.56e-6, 1.04e-6))
    assert by_path["models.coolant_side"].names == NAMES["coolant_side"]
    assert any(text.startswith("coolant.mass_flow: all of the fuel") for text in left_out)


def by_path(name, *sets):
    design = load_case(CASES / f"{name}.toml", sets).design
    chosen, left_out = inputs(design)
    return {one.path: one for one in chosen}, "\n".join(left_out)


def test_what_a_case_rests_on_is_sampled_where_it_gives_it(design):
    plain = {one.path for one in inputs(design)[0]}
    assert not plain & set(RESTED_ON)
    found, _ = by_path("c-ethanol-measured")
    assert found["models.barrel_factor"].width == pytest.approx(0.05 * 0.25)
    assert found["models.throat_factor"].width == pytest.approx(0.05 * 0.35)
    assert found["models.throat_factor"].given.law == "normal"
    found, _ = by_path("c-ethanol-film")
    # a film's entrainment has a usual value, 0.05, where the case gives none
    assert found["film.entrainment"].reach == pytest.approx((0.025, 0.075))
    assert found["film.mass_flow"].width == pytest.approx(0.05 * 0.4)
    found, left_out = by_path(
        "a-methane",
        'models.deposit_resistance="2e-5 m2 K/W"',
        'models.mixing_factor=[["-150 mm", 0.4], ["-80 mm", 1.0]]',
        'liner.coating="0.05 mm"',
        'liner.coating_conductivity="1.5 W/(m K)"',
        "models.radiation=barrel",
    )
    assert found["models.deposit_resistance"].reach == pytest.approx((1e-5, 3e-5))
    assert found["models.mixing_factor"].reach == pytest.approx((0.9, 1.1))  # of its own, along x
    assert found["liner.coating_conductivity"].reach == pytest.approx((1.05, 1.95))
    assert "models.radiation: it is uncertain by a factor of two" in left_out
    layer = 'film.layer_mixture_ratio=[["-150 mm", 1.0], ["0 mm", 2.0]]'
    found, _ = by_path("a-methane", 'film.model="layer mixture ratio"', layer)
    assert found["film.layer_mixture_ratio"].reach == pytest.approx((0.9, 1.1))
    assert "film.entrainment" not in found
    assert "film.mass_flow" not in found
    assert all(
        one.why.startswith("common practice: ") for p, one in found.items() if p in RESTED_ON
    )


def test_a_value_of_nothing_is_left_out_and_says_so():
    found, left_out = by_path("a-methane", 'models.deposit_resistance="0 m2 K/W"')
    assert "models.deposit_resistance" not in found
    assert "models.deposit_resistance: the case's own value is zero" in left_out


def test_the_shop_asks_the_drawing_and_not_what_is_made(design):
    # narrowest at the throat: floor at 19 + 0.8 mm, 80 slots of 0.7 mm; deepest there, 2 mm
    land = 2.0 * np.pi * 19.8e-3 / 80 - 0.7e-3
    seen = []

    def with_land(batch, along):
        rows = model(batch, along)
        seen.append(batch.design.shop)
        loose = np.full(len(batch), 1e6)
        return replace(rows, margins={**rows.margins, "land_width": dict.fromkeys(RUNS, loose)})

    def studied(least):
        made = replace(design, shop=replace(design.shop, least_land=least))
        chosen, _ = inputs(made, WIDTH, WALL)
        return study(made, chosen, with_land, samples=16, seed=4)

    found = studied(land)  # nothing to spare, and slots made wider all the same
    solved = found.rows.solved
    np.testing.assert_allclose(found.rows.margins["land_width"]["nominal"][solved], 0.0, atol=1e-8)
    np.testing.assert_allclose(
        found.rows.margins["slot_aspect"]["nominal"][solved], 1.0 - 2.0 / 0.7 / 8.0
    )
    assert held(found).any()
    assert {shop.cutters for shop in seen} == {()}
    assert {shop.least_land < 1e-6 for shop in seen} == {True}
    broken = studied(1.1 * land)
    assert not held(broken).any()
    assert next(one for one in broken.kept if one.limit == "land_width").kept == 0


def test_the_cost_is_said_beforehand_by_a_timed_sample(design, monkeypatch):
    chosen, _ = inputs(design, WIDTH, WALL)
    asked = []

    def slow(batch, along):
        asked.append(len(batch))
        sleep(0.1 + 0.004 * len(batch))
        return model(batch, along)

    seconds = uncertainty.seconds_needed(design, chosen, slow, samples=8192, seed=1)
    assert asked == [16, 16, 240]
    # 4 ms each and 0.1 s a part of 512, and what else the machine has to do
    assert 0.3 < seconds / (0.004 * 32768 + 64 * 0.1) < 10.0
    text = uncertainty.cost_text(8192, 2, 138.0)
    assert text == (
        "32768 designs, a march each (8192 base points, 2 inputs): about 2 min here; "
        "--samples 4096 takes half of it"
    )
    monkeypatch.setattr(uncertainty, "QUICK", 0.1)
    asked.clear()
    uncertainty.seconds_needed(design, chosen, slow, samples=8192, seed=1)
    assert asked == [16, 16]  # slow ones are not timed for long
    text = "2816 designs, a march each (256 base points, 9 inputs): about 12 s here"
    assert uncertainty.cost_text(256, 9, 12.4) == text


def test_usual_inputs_of_metered_circuits_are_their_flows(calorimeter):
    chosen, left_out = inputs(calorimeter)
    paths = [one.path for one in chosen]
    assert "circuits.throat.mass_flow" in paths
    assert "coolant.mass_flow" not in paths
    assert not left_out
    own = replace(calorimeter.circuits[0].channels, width=Profile.constant(0.9e-3))
    circuits = (replace(calorimeter.circuits[0], channels=own), *calorimeter.circuits[1:])
    paths = [one.path for one in inputs(replace(calorimeter, circuits=circuits))[0]]
    assert {"channels.width", "circuits.injector-end.width"} <= set(paths)


def test_a_share_of_the_fuel_varies_as_a_share(design):
    shared = replace(design, coolant=replace(design.coolant, fuel_fraction=0.8))
    (one,), _ = inputs(shared, "coolant.mass_flow=normal 3 %")
    assert one.column == "coolant.mass_flow_of_fuel"
    assert one.reach == pytest.approx((0.8 * 0.91, 0.8 * 1.09))
    (one,), _ = inputs(shared, "coolant.mass_flow=uniform 0.02 fuel")
    assert one.reach == pytest.approx((0.78, 0.82))


def test_options_take_the_place_of_the_case(design):
    spread, _ = inputs(design, WIDTH, "channels.width=normal 1 %", WALL)
    assert [one.text.partition(",")[0] for one in spread] == ["normal", "uniform"]
    given = replace(design, uncertainty=tuple(one.given for one in inputs(design, WIDTH, GAS)[0]))
    both, left_out = inputs(given, "channels.width=triangular 0.01 mm", WALL)
    assert [one.path for one in both] == ["channels.width", "models.gas_side", "liner.wall"]
    assert both[0].given.law == "triangular"
    assert left_out == ()


REFUSED = {
    "no assignment": (
        ["width"],
        ["--input", "not a key with its distribution", "KEY=DISTRIBUTION"],
    ),
    "unknown key": (["channels.widht=normal 3 %"], ["unknown key", 'mean "width"']),
    "no number": (["coolant.fluid=normal 3 %"], ["it holds no number", "models.gas_side"]),
    "no law": (["liner.wall=3 %"], ["not a law with an amount", "uniform, triangular"]),
    "zero width": (["liner.wall=normal 0 mm"], ["width is zero", "leave it out"]),
    "negative width": (["liner.wall=normal -1 mm"], ["finite and above zero"]),
    "no unit": (["liner.wall=normal 1"], ["the unit is missing", "uniform 0.03 mm"]),
    "through zero": (
        ["channels.width=uniform 0.9 mm"],
        ["goes through zero: it reaches -0.2 mm", "a smaller width"],
    ),
    "through zero by per cent": (
        ["channels.depth=normal 40 %"],
        ["goes through zero: it reaches -0.32 mm"],
    ),
    "beyond a bound": (
        ["chamber.combustion_efficiency=normal 5 %"],
        ["leaves what the key may be", "it reaches 1.0925", "from 0.3 to 1"],
    ),
    "above all of the fuel": (["coolant.mass_flow=normal 1 %"], ["reaches 1.03 of the fuel"]),
    "value for a share": (
        ["coolant.mass_flow=normal 0.01 kg/s"],
        ["gives the flow as a share", '"normal 0.02 fuel"'],
    ),
    "no own value": (["liner.coating=normal 3 %"], ["gives no value to vary about"]),
    "whole number": (["channels.count=uniform 3"], ["a whole number has no spread"]),
    "temperature in per cent": (["coolant.inlet_temperature=normal 2 %"], ["says nothing"]),
    "unknown model": (["models.gas_side=bartz, barz"], ["unknown", 'did you mean "bartz"']),
    "model of another coolant": (
        ["models.coolant_side=taylor, gnielinski"],
        ["fitted to hydrogen", "methane"],
    ),
    "one model": (["models.friction=haaland"], ["one name has no spread", "[models]"]),
    "one that applies": (["models.boiling=any"], ["one correlation applies, cooper"]),
    "roughness twice": (
        ["channels.roughness_Ra=normal 3 %", "channels.roughness_sand_grain=normal 3 %"],
        ["varies too, and each fixes the other"],
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refused(design, name):
    texts, words = REFUSED[name]
    with pytest.raises(CaseError) as caught:
        inputs(design, *texts)
    for word in words:
        assert word in str(caught.value), str(caught.value)


def test_a_width_of_per_cent_of_nothing_is_refused(design):
    bare = replace(design, coolant=replace(design.coolant, outlet_loss=0.0))
    with pytest.raises(CaseError, match="own value is zero"):
        inputs(bare, "coolant.outlet_loss=normal 3 %")


def test_everything_wrong_is_told_at_once(design):
    with pytest.raises(CaseError) as caught:
        inputs(design, "channels.width=uniform 0.9 mm", "models.gas_side=bartz, barz", "foo=1 %")
    # options that cannot be read come first: the others are not judged without them
    assert [problem.key for problem in caught.value.problems] == ["--input foo"]
    with pytest.raises(CaseError) as caught:
        inputs(design, "channels.width=uniform 0.9 mm", "models.gas_side=bartz, barz")
    assert len(caught.value.problems) == 2


CIRCUITS_REFUSED = {
    "coolant.mass_flow=normal 2 %": "the circuits have flows of their own",
    "circuits.throat.share=normal 2 %": "add up to 1",
    "circuits.throat.wdth=normal 2 %": 'did you mean "width"',
    "circuits.thraot.width=normal 2 %": "no such circuit",
}


@pytest.mark.parametrize("text", CIRCUITS_REFUSED)
def test_refused_with_circuits(calorimeter, text):
    with pytest.raises(CaseError, match=CIRCUITS_REFUSED[text]):
        inputs(calorimeter, text)


def test_a_circuit_that_follows_a_varied_key_cannot_vary_too(calorimeter):
    with pytest.raises(CaseError, match="taken from channels.width, which varies too"):
        inputs(calorimeter, "channels.width=normal 2 %", "circuits.throat.width=normal 2 %")


@pytest.mark.parametrize(
    ("samples", "words"),
    [
        (1000, "the nearest is 1024"),
        (700, "the nearest is 512"),
        (8, "too few"),
        (0, "too few"),
        (-4, "too few"),
        (1 << 17, "the most is 300000"),
    ],
)
def test_numbers_of_samples_that_are_refused(samples, words):
    with pytest.raises(CaseError) as caught:
        check_samples(samples, 10)
    assert words in str(caught.value)
    assert "a power of two from 16 to 16384" in str(caught.value)


def test_a_shift_raises_the_whole_profile_and_can_be_written(design):
    (one,), _ = inputs(design, WIDTH)
    key = one.parameter
    assert key.shift
    assert key.column == "channels.width_added_m"
    assert key.label == "channels.width added [mm]"
    assert key.say(-0.02e-3) == "-0.02 mm"
    changed = applied(design, key, 0.02e-3).channels.width
    assert changed.x == design.channels.width.x
    assert changed.value == pytest.approx((0.82e-3, 0.72e-3, 0.82e-3), rel=ROUNDING)
    pairs = key.written(0.02e-3, design)
    assert [pair[1] for pair in pairs] == ["0.82 mm", "0.72 mm", "0.82 mm"]
    assert [pair[0] for pair in pairs] == ["-150 mm", "0 mm", "60 mm"]
    assert key.check(-0.02e-3) == -0.02e-3
    assert numeric_key("channels.width", design) != key


def test_a_shift_reaches_the_circuits_that_take_the_profile(calorimeter):
    channels = replace(calorimeter.channels, depth=Profile((-0.1, 0.0), (0.6e-3, 0.7e-3)), count=40)
    own = replace(channels, depth=Profile.constant(0.9e-3))
    circuits = tuple(replace(c, channels=channels) for c in calorimeter.circuits[1:])
    first = replace(calorimeter.circuits[0], channels=own)
    varied = replace(calorimeter, channels=channels, circuits=(first, *circuits))
    (one,), _ = inputs(varied, "channels.depth=uniform 0.05 mm")
    changed = applied(varied, one.parameter, 0.05e-3)
    assert changed.circuits[0].channels.depth == own.depth
    assert changed.circuits[1].channels.depth.value == pytest.approx((0.65e-3, 0.75e-3))


def test_a_shifted_profile_in_a_batch_is_that_of_one_design():
    design = load_case(CASES / "a-methane.toml", ["models.stations=21"]).design
    chosen, _ = inputs(design, WIDTH, "channels.depth=uniform 0.05 mm")
    batch = DesignBatch(
        design, tuple(one.parameter for one in chosen), np.array([[0.02e-3, -0.04e-3]])
    )
    alone = review(batch.row(0)).summary
    together = solve_batch(batch, judged="nominal").summary
    for name in ("T_wall_hot_max_K", "coolant_pressure_drop_Pa", "q_max_W_m2"):
        assert together[name][0] == pytest.approx(alone[name], rel=ROUNDING), name


def test_every_design_stands_in_the_table(found, tmp_path, monkeypatch):
    monkeypatch.setattr(figures, "figures", lambda study: {})
    written = write(found, tmp_path)
    assert [path.name for path in written] == ["samples.csv", "uncertainty.json"]
    rows = list(csv.DictReader(written[0].read_text().splitlines()))
    assert len(rows) == 64 * 4
    assert [row["sample"] for row in rows[::64]] == ["A", "B", "channels.width", "liner.wall"]
    assert [row["point"] for row in rows[:66]] == [*map(str, range(64)), "0", "1"]
    stopped = [row for row in rows if row["status"] == "choked"]
    assert len(stopped) == int((~found.rows.solved).sum()) > 0
    assert stopped[0]["T_wall_hot_max_K"] == ""
    assert "What to do" in stopped[0]["reason"]
    told = json.loads(written[-1].read_text())
    assert told["limits"][EVERY]["probability"] == found.kept[0].probability
    assert told["quantiles"]["T_wall_hot_max_K"][-1] is None
    assert told["indices"]["T_wall_hot_max_K"]["liner.wall"]["base_points_used"] < 64
    assert told["inputs"][0]["reach"] == pytest.approx([-0.03e-3, 0.03e-3])
    for key in told["provenance"]["sources"]:
        assert sources.find(key).title


def test_the_summary_says_what_a_review_asks(found, design):
    text = "\n".join(output.lines(found))
    stops = int((~found.rows.solved[:128]).sum())
    for part in (
        "128 designs counted, 256 solved or tried, seed 4",
        f"not met, of {found.base}",
        "each were equally likely",
        f"not solved, choked: {stops} of 128",
        "where a design gave no value the point is left out",
        "no index: it does not vary",
    ):
        assert part in text, part
    inputs_given = output.inputs(found).texts()
    spread = "uniform, half-width 0.03 mm, about the case's own, 0.7 to 0.8 mm"
    assert inputs_given[0] == ["channels.width", spread, ""]
    by_limit = {row[0]: row[1:] for row in output.probabilities(found).texts()}
    assert by_limit[EVERY][1].endswith(f"not solved {stops}")
    assert "thermal stress (information)" in by_limit
    # temperatures to 10 K, and no claim of more
    wall, *_ = output.quantiles(found).texts()
    numbers = [cell for cell in wall if cell.isdigit()]
    assert numbers
    assert all(int(number) % 10 == 0 for number in numbers)
    usual, left_out = inputs(design)
    usual_study = replace(found, inputs=usual, left_out=left_out)
    basis = {row[2] for row in output.inputs(usual_study).texts()}
    assert {"tolerance of [shop]", "common practice"} <= basis
    text = "\n".join(output.lines(usual_study))
    for part in ("usual ones", "left out: coolant", "truncated at 3 standard deviations"):
        assert part in text


def test_the_inputs_that_matter_most_come_first(found):
    rows = [row for row in output.ranking(found).rows if row[1] in ("channels.width", "liner.wall")]
    first = {label: row for label, *row in rows if label}
    path, total, ends, index = first["peak hot-gas-side wall temperature"]
    indices_found = found.indices["T_wall_hot_max_K"]
    n = [one.path for one in found.inputs].index(path)
    assert total == indices_found.total[n] == indices_found.total.max()
    assert index == indices_found.first[n]
    assert ends == f"{indices_found.total_low[n]:.2f} to {indices_found.total_high[n]:.2f}"


def test_what_is_kept_by_an_indication_only_is_named(found):
    """A calorimeter's jacket rests on the floor of its strength, and on nothing else."""
    assert not any("indicative" in line for line in output.lines(found))
    own = review(load_case(CASES / "d-water-calorimeter.toml", ("models.stations=21",)).design)
    (line,) = (x for x in output.lines(replace(found, nominal=own)) if "indicative" in x)
    assert line.endswith(": jacket stress, roof bending")


def texts(figure):
    return " ".join(text.get_text() for text in figure.findobj(Text)).replace("\n", " ")


def test_figures_say_what_is_not_solved_and_how_sure_they_are(found, drawn_result):
    whole = replace(found, nominal=drawn_result)
    drawn = figures.figures(whole)
    names = ("probability", "indices", "wall_temperature_bands", "peak_wall_temperature")
    assert set(drawn) == {f"figures/{name}.svg" for name in names}
    bands = texts(figures.bands_figure(whole, whole.along))
    for part in ("limit of the wall, 800 K", "no single design follows", "open above"):
        assert part in bands, part
    odds = texts(figures.probability_figure(whole))
    for part in ("95 % interval", "not evaluated", "does not count as met", "every limit"):
        assert part in odds, part
    share = texts(figures.distribution_figure(whole))
    for part in ("limit, 800 K", "the case itself, 760 K", "share of all designs"):
        assert part in share, part
    order = texts(figures.indices_figure(whole))
    for part in ("first order", "total", "no index", "whiskers: 95 % interval"):
        assert part in order, part


def test_bars_of_probability_add_up_to_all_designs(found):
    axes = figures.probability_figure(found).axes[0]
    ends: dict[float, float] = {}
    for bar in axes.patches:
        place = round(bar.get_y() + bar.get_height() / 2, 6)
        ends[place] = max(ends.get(place, 0.0), bar.get_x() + bar.get_width())
    assert len(ends) == len(found.kept)
    assert list(ends.values()) == pytest.approx([1.0] * len(found.kept))


def test_the_curve_of_peaks_ends_at_the_share_that_is_solved(found):
    axes = figures.distribution_figure(found).axes[0]
    curve = max(axes.lines, key=lambda line: len(line.get_xdata()))
    solved = float(found.rows.solved[: found.base].mean())
    assert curve.get_ydata()[-1] == pytest.approx(solved)
    assert solved < 1.0


def test_a_study_without_a_solved_design_still_tells(design):
    chosen, _ = inputs(design, WIDTH, WALL)

    def none(batch, along):
        thick = replace(batch, values=batch.values + np.array([0.0, 0.1e-3]))
        return replace(model(thick, along), x=None, along={})

    lost = study(design, chosen, none, samples=16, seed=1)
    assert lost.along is None
    assert {one.kept for one in lost.kept} == {0}
    assert set(figures.figures(lost)) == {"figures/probability.svg", "figures/indices.svg"}
    assert output.probabilities(lost).texts()[0][1].startswith("0.000 (0.000 to")
    assert output.quantiles(lost).texts()[0][2:5] == ["not solved"] * 3
    json.dumps(uncertainty_object(lost), allow_nan=False)


def test_what_no_design_could_be_asked_has_no_probability(found):
    blind = uncertainty.Kept("jacket_stress", 0, 0, 14, 2, True, 0.0, 0.2)
    assert output.interval(blind) == "not known"
    assert output.missed(blind) == "not evaluated 14, not solved 2"
    whole = replace(found, kept=(blind, *found.kept))
    limits = uncertainty_object(whole)["limits"]
    assert limits["jacket_stress"]["probability"] is None
    assert all(limits[one.limit]["probability"] == one.probability for one in found.kept)
    assert "not known" in [
        text.get_text() for text in figures.probability_figure(whole).axes[0].texts
    ]

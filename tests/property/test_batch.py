"""A batch equals single solves: every row is what ``review`` finds for that design alone.

A review is a batch of one, so that this says of a row that its company changes nothing. What one
path makes of the core's runs is held by the last test, which marches nominal runs, members and
corners by hand and takes the extremes itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from itertools import product
from typing import Any, Literal

import numpy as np
import pytest
from scipy.optimize import brentq

from regen.case.read import load_case
from regen.checks.review import review
from regen.design import Circuit, Design
from regen.errors import GeometryError, RangeError
from regen.gas.flux import LOW_THROAT
from regen.geometry.channels import build_passage
from regen.geometry.circuits import geometry_of
from regen.physics import arrays as A
from regen.physics import status as st
from regen.physics._dispatch import BOILING, COOLANT_SIDE, FRICTION, GAS_SIDE
from regen.physics.batch import march_all
from regen.result import Margin, Result
from regen.solver.prepare import Prepared, prepare
from regen.solver.solve import Judged, MarchError, solve, solve_designs
from regen.studies.batch.designs import DesignBatch, solve_batch
from regen.studies.batch.parameters import numeric_key
from regen.studies.batch.rows import ALONG, ASKED, RUNS, Rows, joined
from regen.studies.batch.template import template_of
from tests.helpers.places import CASES, WATER

# The same kernel and tables on both sides: rows are those of reviews to the last bit. Only fitted
# factors that vary stand in the runs, those of a single case in its gas: 1e-15 each.
ROUNDING = 1e-9
# Margins are small differences of large numbers.
MARGIN_ROUNDING = 1e-8
# Positions of peaks hang on second differences of a column; within this share of the length.
PLACE_ROUNDING = 1e-7

ROWS = 12
STATIONS = "models.stations=21"

JUDGED: tuple[Judged, ...] = ("nominal", "worst", "full")


@dataclass(frozen=True)
class Draw:
    """A key and the range its values are drawn from, in SI or as a factor."""

    path: str
    low: float
    high: float
    form: Literal["value", "relative", "shift"] = "value"
    point: int | None = None


@dataclass(frozen=True)
class Setting:
    """A case, what varies in it, and what has to come of it for the draw to be worth anything."""

    case: str
    draws: tuple[Draw, ...]
    has: frozenset[str]
    given: tuple[str, ...] = ()
    models: tuple[tuple[str, tuple[str, ...]], ...] = ()
    outlet_pressure: float | None = None
    rows: int = ROWS
    meet: float | None = None
    """Where two circuits meet [m], if there are two whose split is that of equal drops."""


GAS_SIDES = ("bartz", "bartz_enthalpy", "pipe_film", "reference_enthalpy")
FRICTIONS = ("colebrook", "haaland", "heated_wall")
NOT_CUT, CHOKED, REFUSED = "no such geometry", "choked", "out of range"
GAS = "coolant a gas below its critical pressure"

SETTINGS = {
    "a, heat returned": Setting(
        "a-methane",
        (
            Draw("channels.width", 0.7, 2.2, "relative"),
            Draw("channels.width", 0.5e-3, 1.6e-3, point=1),
            Draw("channels.depth", 1.2e-3, 2.6e-3),
            Draw("liner.wall", 0.5e-3, 1.4e-3),
            Draw("channels.count", 50, 110),
            Draw("coolant.mass_flow", 0.7, 1.0),
            Draw("channels.roughness_Ra", 0.2e-6, 5e-6),
            Draw("models.conductivity_factor", 0.7, 1.1),
            Draw("models.barrel_factor", 0.3, 0.9),
            Draw("models.throat_factor", 0.4, 1.0),
        ),
        frozenset({"solved", NOT_CUT}),
        models=(("gas_side", GAS_SIDES), ("friction", FRICTIONS)),
    ),
    "a, nothing returned": Setting(
        "a-methane",
        (
            Draw("coolant.inlet_temperature", 60.0, 260.0),
            Draw("coolant.inlet_pressure", 30e5, 250e5),
            Draw("channels.depth", 0.5, 1.3, "relative"),
            Draw("liner.wall", -0.3e-3, 0.4e-3, "shift"),
            Draw("channels.roughness_sand_grain", 1e-6, 20e-6),
            Draw("coolant.inlet_loss", 0.0, 1.5),
            Draw("coolant.outlet_loss", 0.0, 1.0),
        ),
        frozenset({"solved", GAS, REFUSED}),
        given=("coolant.returns_to_injector=false",),
        rows=12,
    ),
    "a, coated and sooted": Setting(
        "a-methane",
        (
            Draw("models.deposit_resistance", 0.5, 1.5, "relative"),
            Draw("channels.width", 0.65e-3, 0.9e-3),
        ),
        frozenset({"solved"}),
        given=(
            'models.deposit_resistance=[["-150 mm", "2e-5 m2 K/W"], ["0 mm", "4e-6 m2 K/W"]]',
            'liner.coating="0.05 mm"',
            'liner.coating_conductivity="1.5 W/(m K)"',
        ),
        rows=6,
    ),
    "a, soot where the case has none": Setting(
        "a-methane",
        (Draw("models.deposit_resistance", 1e-6, 3e-5),),
        frozenset({"solved"}),
        rows=4,
    ),
    "a, cut to the shop's limits": Setting(
        "a-methane",
        (Draw("channels.width", 0.7e-3, 1.3e-3), Draw("channels.depth", 1.2e-3, 2.6e-3)),
        frozenset({"solved"}),
        given=(
            'shop.least_land="0.7 mm"',
            "shop.greatest_aspect=2.5",
            'shop.cutters=[{kind="end mill",width="0.9 mm",depth="2 mm"}]',
        ),
        rows=6,
    ),
    "a, lands that only the width's tolerance takes": Setting(
        "a-methane",
        # a pitch of 1.55 mm at the throat; depths may be off by more than a land
        (Draw("channels.width", 1.38e-3, 1.54e-3, point=1),),
        frozenset({"solved", NOT_CUT}),
        given=(
            'shop.width_tolerance="0.02 mm"',
            'shop.depth_tolerance="0.3 mm"',
            "coolant.returns_to_injector=false",
            "models.barrel_factor=0.3",
            "models.throat_factor=0.3",
            'shop.wall_tolerance="0.01 mm"',
        ),
        rows=8,
    ),
    "a, outlet given": Setting(
        "a-methane",
        (
            Draw("channels.width", 0.8e-3, 1.1e-3),
            Draw("coolant.mass_flow", 0.3, 0.52),
            Draw("models.throat_factor", 0.4, 0.9),
        ),
        frozenset({"solved", REFUSED}),
        given=('coolant.mass_flow="0.45 kg/s"', "coolant.returns_to_injector=true"),
        outlet_pressure=60e5,
        rows=8,
    ),
    "b": Setting(
        "b-hydrogen",
        (
            Draw("channels.depth", 0.35, 1.2, "relative"),
            Draw("channels.width", 0.8e-3, 1.8e-3, point=2),
            Draw("channels.width", -0.1e-3, 0.2e-3, "shift"),
            Draw("channels.count", 130, 280),
            Draw("liner.wall", 0.5e-3, 1.0e-3),
            Draw("coolant.mass_flow", 0.8, 1.0),
        ),
        frozenset({"solved", CHOKED, NOT_CUT}),
        models=(("coolant_side", ("taylor", "mccarthy_wolf")),),
    ),
    "c-bare": Setting(
        "c-ethanol-bare",
        (
            Draw("channels.depth", 0.5e-3, 0.9e-3, point=1),
            Draw("channels.width", 0.8, 1.9, "relative"),
            Draw("models.barrel_factor", 0.3, 1.0),
            Draw("models.throat_factor", 0.6, 1.0),
            Draw("coolant.mass_flow", 0.8, 1.0),
            Draw("channels.count", 40, 110),
        ),
        frozenset({"solved"}),
        rows=8,
        models=(("boiling", ("cooper", "thom")), ("coolant_side", ("gnielinski", "sieder_tate"))),
    ),
    "c, above and below the critical pressure": Setting(
        "c-ethanol-bare",
        (
            Draw("coolant.inlet_pressure", 40e5, 110e5),
            Draw("models.barrel_factor", 0.3, 0.6),
            Draw("models.throat_factor", 0.3, 0.6),
        ),
        frozenset({"solved"}),
        given=("coolant.returns_to_injector=false",),
        rows=6,
    ),
    "c, through the critical pressure": Setting(
        "c-ethanol-bare",
        (Draw("coolant.inlet_pressure", 54e5, 78e5),),
        frozenset({"solved"}),
        given=("coolant.returns_to_injector=false",),
        rows=10,
    ),
    "c, the outlet near the critical pressure": Setting(
        "c-ethanol-bare",
        (Draw("coolant.outlet_pressure", 40e5, 66e5),),
        frozenset({"solved"}),
        outlet_pressure=50e5,
        given=("coolant.returns_to_injector=false",),
        rows=8,
    ),
    "c-film": Setting(
        "c-ethanol-film",
        (
            Draw("channels.depth", 0.7, 1.3, "relative"),
            Draw("liner.wall", 0.6e-3, 1.2e-3),
            Draw("models.conductivity_factor", 0.8, 1.0),
        ),
        frozenset({"solved"}),
        rows=5,
    ),
    "d": Setting(
        "d-water-calorimeter",
        (
            Draw("channels.depth", 0.4e-3, 0.9e-3),
            Draw("circuits.throat.mass_flow", 0.2, 0.5),
            Draw("channels.count", 30, 140),
        ),
        frozenset({"solved", NOT_CUT}),
        rows=4,
    ),
    "a, two circuits that share the heat they return": Setting(
        "a-methane",
        (
            Draw("channels.depth", 0.8, 1.2, "relative"),
            Draw("circuits.barrel.width", 0.7e-3, 1.2e-3),
            Draw("circuits.throat.count", 70, 90),
            Draw("coolant.mass_flow", 0.9, 1.0),
        ),
        frozenset({"solved"}),
        given=("models.barrel_factor=0.3", "models.throat_factor=0.4"),
        rows=5,
        meet=-0.05,
    ),
    "water, ring manifolds": Setting(
        "water",
        (
            Draw("manifolds.inlet_bore", 1.5e-3, 6e-3),
            Draw("manifolds.outlet_turn", 0.0, 3.0),
            Draw("channels.depth", 1.2e-3, 2.2e-3),
            Draw("channels.count", 28, 38),
        ),
        frozenset({"solved", REFUSED}),
        given=(
            "manifolds.inlet_bore=5 mm",
            "manifolds.inlet_taps=1",
            "manifolds.outlet_bore=6 mm",
            "manifolds.outlet_taps=2",
            "manifolds.outlet_turn=0 deg",
            'coolant.inlet_pressure="60 bar"',
        ),
        rows=8,
    ),
    "c-film, other flames": Setting(
        "c-ethanol-film",
        (Draw("propellants.mixture_ratio", 1.2, 1.4), Draw("channels.depth", 0.9, 1.1, "relative")),
        frozenset({"solved"}),
        rows=3,
    ),
}


def base_of(setting: Setting) -> Design:
    given = list(setting.given) if setting.case.startswith("d") else [STATIONS, *setting.given]
    path = WATER if setting.case == "water" else CASES / f"{setting.case}.toml"
    design = load_case(path, given).design
    if setting.meet is not None:
        own, enters_at = design.channels, design.coolant.enters_at
        barrel = replace(own, cooled_to=setting.meet, cooled_to_area_ratio=None)
        throat = replace(own, cooled_from=setting.meet)
        pair = Circuit("barrel", barrel, enters_at), Circuit("throat", throat, enters_at)
        design = replace(design, circuits=pair)
    if setting.outlet_pressure is None:
        return design
    feed = replace(design.coolant, inlet_pressure=None, outlet_pressure=setting.outlet_pressure)
    return replace(design, coolant=feed)


def rounding(name: str) -> float:
    """Return 0 where rows must be those of reviews to the last bit, else 1."""
    return float(
        any(draw.path.endswith(("barrel_factor", "throat_factor")) for draw in SETTINGS[name].draws)
    )


@cache
def batch_of(name: str) -> DesignBatch:
    """Return the random designs of a setting; the same ones each time."""
    setting = SETTINGS[name]
    design = base_of(setting)
    draws = np.random.default_rng(20_240_611)
    keys, columns = [], []
    for draw in setting.draws:
        key = numeric_key(draw.path, design)
        more = {} if draw.form == "value" else {draw.form: True}
        keys.append(replace(key, point=draw.point, **more))
        values = draws.uniform(draw.low, draw.high, setting.rows)
        columns.append(np.round(values) if key.whole else values)
    models = {role: list(draws.choice(of, setting.rows)) for role, of in setting.models}
    return DesignBatch(design, tuple(keys), np.column_stack(columns), models or None)


@cache
def alone(name: str) -> tuple[Result | Exception, ...]:
    """Return every design of a setting, solved and judged by itself."""
    found: list[Result | Exception] = []
    batch = batch_of(name)
    for n in range(len(batch)):
        try:
            found.append(review(batch.row(n)))
        except (MarchError, GeometryError, RangeError) as error:
            found.append(error)
    return tuple(found)


@cache
def together(name: str, judged: Judged) -> Rows:
    return solve_batch(batch_of(name), judged=judged, along=True)


def close(found: float, wanted: float, by: float = ROUNDING, scale: float = 0.0) -> bool:
    if np.isnan(wanted):
        return bool(np.isnan(found))
    return abs(found - wanted) <= by * max(abs(wanted), scale)


def reason_of(error: Exception) -> tuple[str, str, float]:
    if isinstance(error, MarchError):
        return error.status, str(error), error.station_x
    name = "no such geometry" if isinstance(error, GeometryError) else "out of range"
    return name, str(error).replace("\n\n", "; "), np.nan


@pytest.mark.parametrize("judged", JUDGED)
@pytest.mark.parametrize("name", SETTINGS)
def test_every_row_has_the_outcome_of_its_single_solve(name, judged):
    rows = together(name, judged)
    assert SETTINGS[name].has <= set(rows.status)
    for n, result in enumerate(alone(name)):
        if isinstance(result, Result):
            assert (rows.status[n], rows.reason[n]) == ("solved", "")
            assert np.isnan(rows.x_stop[n])
            continue
        status, reason, x = reason_of(result)
        assert (rows.status[n], rows.reason[n]) == (status, reason)
        assert close(rows.x_stop[n], x)
        assert rows.verdict[n] == ""
        numbers = [*rows.summary.values(), *rows.along.values()]
        numbers += [of_run for runs in rows.margins.values() for of_run in runs.values()]
        assert all(np.isnan(values[n]).all() for values in numbers)


def more_of(result: Result) -> dict[str, float]:
    """Return what a row has beside the summary of a result."""
    worst = result.worst_channel
    whole = bool(worst) and worst["corners_not_solved"] == 0
    return {
        "coolant_mach_max": float(result.stations["mach_coolant"].max()),
        "land_width_min_m": float(result.stations["land_width_m"].min()),
        "T_wall_hot_max_worst_K": worst["T_wall_hot_max_K"] if whole else np.nan,
        "T_wall_hot_max_band_K": result.bands["T_wall_hot_max_K"].max,
        "coolant_pressure_drop_band_Pa": result.bands["coolant_pressure_drop_Pa"].max,
    }


@pytest.mark.parametrize("judged", JUDGED)
@pytest.mark.parametrize("name", SETTINGS)
def test_every_number_is_that_of_its_single_solve(name, judged):
    rows = together(name, judged)
    for n, result in enumerate(alone(name)):
        if not isinstance(result, Result):
            continue
        wanted = {**result.summary, **more_of(result)}
        length = float(np.ptp(result.stations["x_m"]))
        for number, values in rows.summary.items():
            by, scale = (PLACE_ROUNDING, length) if number.startswith("x_") else (ROUNDING, 0.0)
            assert close(values[n], wanted[number], by * rounding(name), scale), (number, n)
        assert rows.x is not None
        size = result.stations["x_m"].size
        assert np.array_equal(rows.x[n, :size], result.stations["x_m"])
        for column in ALONG:
            wanted_along = result.stations[column]
            off = np.abs(rows.along[column][n, :size] / wanted_along - 1.0).max()
            assert off <= ROUNDING * rounding(name)


def run_missing(result: Result, run: str) -> bool:
    """Return whether a limit that makes no demand still has no margin in a run."""
    if run == "worst_channel":
        return not result.worst_channel or result.worst_channel["corners_not_solved"] > 0
    return run == "band_edge" and result.bands["T_wall_hot_max_K"].open


@pytest.mark.parametrize("judged", JUDGED)
@pytest.mark.parametrize("name", SETTINGS)
def test_every_margin_is_that_of_its_single_solve(name, judged):
    rows = together(name, judged)
    for n, result in enumerate(alone(name)):
        if not isinstance(result, Result):
            continue
        wanted = {margin.name: margin for margin in result.margins}
        assert set(wanted) <= set(rows.margins)
        informative = {name for name, margin in wanted.items() if margin.informative}
        assert informative == rows.informative & set(wanted)
        for limit, runs in rows.margins.items():
            for run in RUNS:
                value = margin_of(result, wanted.get(limit), run)
                value = value if run in ASKED[judged] else np.nan
                if value is None:
                    assert runs[run][n] == 1.0 or np.isnan(runs[run][n]), (limit, run, n)
                    continue
                assert close(runs[run][n], value, MARGIN_ROUNDING * rounding(name), 1.0), (
                    limit,
                    run,
                    n,
                )


@pytest.mark.parametrize("varied", ["barrel", "throat"])
def test_one_factor_may_vary_where_the_case_gives_the_other(varied):
    """They fade into each other, so neither can be in the gas while the other is in the runs."""
    design = load_case(CASES / "c-ethanol-measured.toml", [STATIONS]).design
    key = numeric_key(f"models.{varied}_factor", design)
    batch = DesignBatch(design, (key,), np.array([[0.6]]), None)
    found = solve_batch(batch, judged="nominal").summary["heat_total_W"][0]
    assert close(found, review(batch.row(0)).summary["heat_total_W"])


def test_a_row_has_the_members_of_its_single_solve():
    """The low member is there unless the row's throat factor is given, barrel given or not."""
    design = base_of(SETTINGS["a, heat returned"])
    keys = [numeric_key(f"models.{name}_factor", design) for name in ("barrel", "throat")]
    values = np.array([[1.0, 1.0], [0.5, 1.0], [1.0, 0.8], [0.5, 0.8]])
    batch = DesignBatch(design, tuple(keys), values, None)
    designs = [batch.row(n) for n in range(len(values))]
    solved, _ = solve_designs(template_of(design, keys, {}).lay(designs))
    for band in solved.members:
        for n in band.at:
            assert band.names == tuple(m.name for m in solve(designs[n]).members)
    low = [sum(LOW_THROAT in name for name in band.names) for band in solved.members]
    assert sorted(low) == [0, 6]  # three coolant-side members, two of friction


def margin_of(result: Result, margin: Margin | None, run: str) -> float | None:
    if margin is None:  # no demand, unless what stopped bears on it
        return None if run_missing(result, run) else 1.0
    value = getattr(margin, run)
    return np.nan if value is None else float(value)


def verdict_of(result: Result, judged: Judged) -> str:
    """Return the verdict over some columns, from the rows of a result."""
    found = set()
    for margin in result.margins:
        if margin.informative:
            continue
        columns = [margin.columns[name] for name in ASKED[judged]]
        surely = ["maybe" if one.indicative else one.state for one in columns]
        if surely[0] == "broken":
            found.add("fail")
        elif columns[0].state == "kept" and "broken" in surely:
            found.add("at risk")
        elif {"maybe", "unknown"} & set(surely):
            found.add("open")
    return next((v for v in ("fail", "at risk", "open") if v in found), "pass")


@pytest.mark.parametrize("judged", JUDGED)
@pytest.mark.parametrize("name", SETTINGS)
def test_every_verdict_is_that_of_its_single_solve(name, judged):
    rows = together(name, judged)
    for n, result in enumerate(alone(name)):
        if isinstance(result, Result):
            assert rows.verdict[n] == verdict_of(result, judged)
            if judged == "full":
                assert rows.verdict[n] == result.verdict
                assert rows.nominal_kept[n] == result.nominal_kept


def bitwise(found: Rows, wanted: Rows) -> bool:
    same = [found.status == wanted.status, found.reason == wanted.reason]
    same += [found.verdict == wanted.verdict, found.nominal_kept == wanted.nominal_kept]
    pairs = [(found.x_stop, wanted.x_stop), (found.x, wanted.x)]
    assert set(found.margins) == set(wanted.margins)
    pairs += [(values, wanted.summary[n]) for n, values in found.summary.items()]
    pairs += [(values, wanted.along[n]) for n, values in found.along.items()]
    for limit, runs in found.margins.items():
        pairs += [(values, wanted.margins[limit][run]) for run, values in runs.items()]
    numbers = [np.array_equal(a, b, equal_nan=True) for a, b in pairs]
    return all(texts.all() for texts in same) and all(numbers)


@pytest.mark.parametrize("judged", JUDGED)
@pytest.mark.parametrize("name", SETTINGS)
def test_rows_do_not_depend_on_how_a_batch_is_cut(name, judged):
    batch, whole = batch_of(name), together(name, judged)
    assert bitwise(solve_batch(batch, judged=judged, along=True, threads=2), whole)
    cuts = [0, 1, len(batch) // 2, len(batch)]
    spans = [np.arange(a, b) for a, b in zip(cuts[:-1], cuts[1:], strict=True)]
    parts = [(at, solve_batch(batch.taken(at), judged=judged, along=True)) for at in spans]
    assert bitwise(joined(parts, len(batch), judged), whole)


def test_a_chunk_of_one_feed_has_the_correlation_of_its_own_feed():
    # the first half is fed as a liquid, the second above the critical pressure: a chunk each
    design = base_of(SETTINGS["c, above and below the critical pressure"])
    key = numeric_key("coolant.inlet_pressure", design)
    batch = DesignBatch(design, (key,), np.repeat([45e5, 95e5], 2)[:, None])
    whole = solve_batch(batch, judged="nominal", threads=2)
    for n in range(len(batch)):
        alone = review(batch.row(n)).summary["T_wall_hot_max_K"]
        assert close(whole.summary["T_wall_hot_max_K"][n], alone)


HAND = {"width": (1.0, 1.1), "wall": (0.9e-3, 1.1e-3)}
LIQUID_FORMS = ("gnielinski", "sieder_tate", "dittus_boelter", "petukhov_kirillov_popov")
GAS_FORMS = (*GAS_SIDES, "integral_layer", LOW_THROAT)
FLOOR = 0.25  # the stated floor of wall less coolant and of the drop
STREAK, LESS = 1.2, 0.9  # the shop's usual ones
BY = {"width": 0.03e-3, "depth": 0.05e-3, "wall": 0.05e-3}
SHARE_MET = 0.02  # what a flow found to 1e-4 of the drop leaves of a wall 200 K above water [K]


def by_hand(prepared: Prepared, names: list[tuple[str, str, str]], geometry=None, **run) -> Any:
    """March one run for each gas side, coolant side and friction named; return stations, totals."""
    rows, models = np.repeat(prepared.run, len(names)), np.zeros(len(names), dtype=A.MODEL)
    for field, value in run.items():
        rows[field] = value
    models["throat_factor"] = [0.6 if names_[0] == LOW_THROAT else 1.0 for names_ in names]
    gas_sides = ["bartz" if gas == LOW_THROAT else gas for gas, _, _ in names]
    models["gas_side"] = [GAS_SIDE[name] for name in gas_sides]
    models["coolant_side"] = [COOLANT_SIDE[name] for _, name, _ in names]
    models["friction"] = [FRICTION[name] for _, _, name in names]
    models["boiling"] = BOILING["cooper"]
    tables = prepared.gas, prepared.coolant, prepared.walls
    out, status = march_all(geometry or prepared.geometry, *tables, rows, models)
    assert np.all(status[:, 0] == st.OK)
    return out.station[:, ::-1], out.total  # by rising x: the coolant enters at the nozzle


def top(x: np.ndarray, T: np.ndarray) -> float:
    """Return the top of the parabola through the highest of a curve's points."""
    i = int(np.argmax(T))
    if not 0 < i < T.size - 1:
        return float(T[i])
    a, b, c = np.polyfit(x[i - 1 : i + 2] - x[i], T[i - 1 : i + 2], 2)
    return float(c - b * b / (4.0 * a))


def drop_of(total: np.ndarray) -> np.ndarray:
    return total[:, A.T_P_IN] - total[:, A.T_P_OUT]


def worst_by_hand(prepared: Prepared, nominal: np.ndarray) -> float:
    """Return the peak of the hottest corner: sizes and streak first, then the flow, then less."""
    design, (path,) = prepared.design, prepared.paths
    names = [("bartz", "gnielinski", "colebrook")]
    wanted, flow = drop_of(nominal)[0], nominal[0, A.T_MASS_FLOW]
    tops: list[tuple[float, float]] = []
    for width, depth, wall in product(*((by, -by) for by in BY.values())):
        channels = replace(
            design.channels,
            width=design.channels.width.raised(width),
            depth=design.channels.depth.raised(depth),
        )
        liner = replace(design.liner, wall=design.liner.wall.raised(wall))
        thickness = design.closeout.thickness
        passage = build_passage(prepared.contour, channels, liner, thickness, path.x)
        geometry = geometry_of(design, (replace(path, passage=passage),))

        def run(share: float, geometry: A.Geometry = geometry) -> Any:
            return by_hand(prepared, names, geometry, gas_factor=STREAK, mass_flow=share * flow)

        share = brentq(lambda s, run=run: drop_of(run(s)[1])[0] - wanted, 0.7, 1.3, xtol=1e-6)
        T = run(LESS * share)[0][0, :, A.O_T_WALL_HOT]
        tops.append((float(T.max()), top(path.x, T)))
    return max(tops)[1]


def test_rows_and_reviews_are_what_marching_by_hand_gives():
    """Nominal, members and corners one by one, the extremes taken here; water that never boils."""
    design = load_case(WATER, [STATIONS, 'coolant.inlet_pressure="60 bar"']).design
    keys = numeric_key("channels.width", design), numeric_key("liner.wall", design)
    keys = replace(keys[0], relative=True), keys[1]
    values = np.array([*zip(*HAND.values(), strict=True)])
    batch = DesignBatch(design, keys, values)
    rows = solve_batch(batch)
    for n in range(len(batch)):
        prepared, result = prepare(batch.row(n)), review(batch.row(n))
        x = prepared.passage.x
        station, total = by_hand(prepared, [("bartz", "gnielinski", "colebrook")])
        T, bulk = station[0, :, A.O_T_WALL_HOT], station[0, :, A.O_T_COOLANT]
        wanted = {"T_wall_hot_max_K": top(x, T), "coolant_pressure_drop_Pa": drop_of(total)[0]}
        names = list(product(GAS_FORMS, LIQUID_FORMS, ("colebrook", "heated_wall")))
        members, totals = by_hand(prepared, names)
        tops = [top(x, of_member) for of_member in members[..., A.O_T_WALL_HOT]]
        band = {
            "T_wall_hot_max_K": max(*tops, np.max(bulk + (1.0 + FLOOR) * (T - bulk))),
            "coolant_pressure_drop_Pa": max(*drop_of(totals), (1.0 + FLOOR) * drop_of(total)[0]),
        }
        for name, value in wanted.items():
            assert result.summary[name] == pytest.approx(value, rel=ROUNDING)
            assert rows.summary[name][n] == pytest.approx(value, rel=ROUNDING)
        for name, value in band.items():
            assert result.bands[name].max == pytest.approx(value, rel=ROUNDING)
            row = rows.summary[name.replace("_max", "_max_band").replace("drop", "drop_band")]
            assert row[n] == pytest.approx(value, rel=ROUNDING)
        assert result.bands["T_wall_hot_max_K"].rank == 1 + sum(
            one < wanted["T_wall_hot_max_K"] * (1.0 - ROUNDING) for one in tops
        )
        worst = worst_by_hand(prepared, total)
        assert result.worst_channel["T_wall_hot_max_K"] == pytest.approx(worst, abs=SHARE_MET)
        assert rows.summary["T_wall_hot_max_worst_K"][n] == pytest.approx(worst, abs=SHARE_MET)

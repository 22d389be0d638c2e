"""A grid's rows are those of the product of its axes, and parts are cuts of one batch."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from regen.case.read import load_case
from regen.output.sweep_table import part_text
from regen.studies.batch.designs import solve_batch
from regen.studies.sweep.plan import Axis, SweepPlan
from regen.studies.sweep.study import solve_part
from regen.studies.sweep.vary import grid_of
from tests.helpers.places import CASES

CASE = load_case(CASES.parent / "tests" / "helpers" / "water.toml", ["models.stations=21"])
KEYS = grid_of(["channels.width=1:2:2:mm", "channels.depth=1:2:2:mm", "liner.wall=1:2:2:mm"], CASE)

counts = st.lists(st.integers(2, 6), min_size=1, max_size=3)


def axes_of(sizes: list[int], listed: list[bool]) -> tuple[Axis, ...]:
    axes = []
    for key, size, as_list in zip(KEYS.parameters, sizes, listed, strict=False):
        values = tuple(1.0 + n / 7.0 for n in range(size)) if as_list else ()
        axes.append(Axis(key, 1.0, 2.0, size, values))
    return tuple(axes)


@given(sizes=counts, listed=st.lists(st.booleans(), min_size=3, max_size=3), cut=st.data())
@settings(max_examples=60, deadline=None)
def test_rows_are_those_of_the_product(sizes, listed, cut):
    axes = axes_of(sizes, listed)
    plan = SweepPlan(CASE.design, tuple(axis.parameter for axis in axes), axes)
    each = [axis.at(np.arange(axis.count)).tolist() for axis in axes]
    expected = list(itertools.product(*each))
    assert len(plan) == len(expected)
    start = cut.draw(st.integers(0, len(plan)))
    stop = cut.draw(st.integers(start, len(plan)))
    assert list(map(tuple, plan.values(start, stop).tolist())) == expected[start:stop]


@given(rows=st.integers(1, 9))
@settings(max_examples=4, deadline=None)
def test_parts_of_any_size_are_cuts_of_one_batch(rows):
    plan = grid_of(["channels.count=30,36,400", "liner.wall=0.9,1.0,1.1:mm"], CASE, "nominal")
    whole = part_text(plan, solve_batch(plan.batch(0, 9), judged="nominal"), 0)
    cut = replace(plan, part_rows=rows)
    parts = [part_text(plan, solve_part(cut, n), cut.rows_of(n).start) for n in range(cut.parts)]
    body = [line for text in parts for line in text.splitlines()[1:]]
    # a part whose rows all failed knows no limits: its lines are shorter, and its numbers the same
    for one, other in zip(whole.splitlines()[1:], body, strict=True):
        solved = ",solved," in one
        assert one == other if solved else one.split(",")[:4] == other.split(",")[:4]

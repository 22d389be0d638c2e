"""What is worked out of many designs at once: peaks, margins, masses and sizes, by hand."""

from __future__ import annotations

from contextlib import nullcontext
from dataclasses import replace
from math import cos, inf, nan, pi, radians, sin
from types import SimpleNamespace

import numpy as np
import pytest

from regen.case.read import load_case
from regen.checks import limits
from regen.checks.mass import cooled_mass
from regen.checks.registry import Limit
from regen.checks.runs import Compared, Run
from regen.checks.stations import peak
from regen.checks.verdict import column
from regen.design import Closeout, Liner, Profile
from regen.errors import GeometryError, RangeError
from regen.geometry.channels import Passage, Sizes, build_passage, can_be_cut, ground_of
from regen.metals import alloys
from regen.solver.layout import Profiles
from regen.solver.prepare import prepare
from tests.helpers.places import CASES

# A parabola through three points of a parabola: a few roundings of its height.
ROUNDING = 1e-12


class TestPeak:
    x = np.array([-0.3, -0.1, 0.0, 0.15, 0.4, 0.5])

    def test_a_parabola_gives_its_top(self):
        tops = np.array([7.0, 2.0, -3.0])
        places = np.array([0.04, -0.05, 0.3])  # none of them at a station
        steep = np.array([1.0, 30.0, 0.2])
        y = tops[:, None] - steep[:, None] * (self.x - places[:, None]) ** 2
        found, at = peak(self.x, y)
        assert found == pytest.approx(tops, rel=ROUNDING)
        assert at == pytest.approx(places, rel=1e-9)

    def test_an_end_is_returned_as_it_is(self):
        beyond = -((self.x - 2.0) ** 2)  # a parabola whose top is not among the stations
        y = np.stack([self.x, -self.x, np.full(self.x.size, 4.0), beyond])
        found, at = peak(self.x, y)
        assert found.tolist() == [0.5, 0.3, 4.0, -2.25]
        assert at.tolist() == [0.5, -0.3, -0.3, 0.5]  # the first of equals

    def test_two_stations_have_no_parabola(self):
        found, at = peak(np.array([0.0, 1.0]), np.array([[1.0, 2.0], [5.0, 3.0]]))
        assert found.tolist() == [2.0, 5.0]
        assert at.tolist() == [1.0, 0.0]

    def test_no_parabola_is_laid_through_a_step(self):
        x = np.arange(5.0)
        y = np.array([868.0, 872.0, 880.0, 624.0, 620.0])
        # falls of 8 and 256: the top is (256 - 8)^2 / (8 (256 + 8)) higher
        through = 880.0 + 248.0**2 / 8.0 / 264.0
        assert peak(x, y, np.ones(5, dtype=int))[0] == pytest.approx(through)
        for regime in ([7, 7, 7, 0, 0], [0, 0, 1, 1, 1], [0, 0, 1, 0, 0]):
            assert peak(x, y, np.array(regime)) == (880.0, 2.0)
        # a step elsewhere is none of its business
        far = np.array([0, 1, 1, 1, 0])
        assert peak(x, y, far)[0] == pytest.approx(through)
        # designs side by side: only the second steps there
        both = peak(x, np.stack([y, y]), np.array([[3] * 5, [3, 3, 3, 0, 0]]))[0]
        assert both == pytest.approx([through, 880.0])

    def test_many_rows_are_each_of_them_alone(self):
        draws = np.random.default_rng(1)
        y = draws.normal(size=(4, 50, self.x.size))
        found, at = peak(self.x, y)
        for place in np.ndindex(4, 50):
            assert (found[place], at[place]) == peak(self.x, y[place])


def run_of(**columns: list) -> Run:
    stations = {name: np.array(values, dtype=float) for name, values in columns.items()}
    return Run({"x_m": np.zeros_like(next(iter(stations.values()))), **stations}, {})


class TestMargins:
    highest = Limit("one", "in words", "K", "common_practice")
    least = Limit("other", "in words", "Pa", "common_practice", kind="min")

    def along(self, limit, allowed, run, asked=None):
        def compare(run):
            value = run.stations["T"]
            return Compared(value, np.full(value.shape, allowed), asked)

        return limits.along(limit, compare, run)[0]

    def test_they_are_relative_and_positive_where_the_limit_is_kept(self):
        run = run_of(T=[[400.0, 500.0], [250.0, 1000.0]])
        assert self.along(self.highest, 500.0, run).tolist() == [[0.2, 0.0], [0.5, -1.0]]
        found = self.along(self.least, 500.0, run)
        assert found.tolist() == [[-0.2, 0.0], [-0.5, 1.0]]
        assert column(found).margin.tolist() == [-0.2, -0.5]

    def test_a_place_without_demand_does_not_count(self):
        run = run_of(T=[[400.0, 600.0], [nan, 450.0], [nan, inf]])
        asked = np.array([[True, False], [False, True], [False, False]])
        found = self.along(self.highest, 500.0, run, asked)
        assert found.tolist() == [[0.2, inf], [inf, 0.1], [inf, inf]]
        assert column(found).margin.tolist() == [0.2, 0.1, 1.0]

    def test_a_number_that_is_not_there_is_no_margin(self):
        found = self.along(self.highest, 500.0, run_of(T=[[400.0, nan], [-inf, 400.0]]))
        assert np.isnan(found).tolist() == [[False, True], [True, False]]
        assert np.isnan(column(found).margin).all()

    def test_an_allowable_without_table_is_no_margin(self):
        def compare(run):
            raise RangeError("no strength at 2000 K")

        found, _ = limits.along(self.highest, compare, run_of(T=[[400.0, 500.0]]))
        assert found.shape == (1, 2)
        assert np.isnan(found).all()

    def test_each_is_what_a_design_alone_is_judged_by(self):
        draws = np.random.default_rng(2)
        T, asked = draws.uniform(200.0, 900.0, (40, 6)), draws.uniform(size=(40, 6)) < 0.4
        found = column(self.along(self.highest, 500.0, run_of(T=T.tolist()), asked)).margin
        for n in range(40):
            alone = [(500.0 - t) / 500.0 for t in T[n][asked[n]]]
            assert found[n] == (min(alone) if alone else 1.0)


COPPER, NICKEL = 0.2e-3, 3e-3
DESIGN = SimpleNamespace(
    liner=Liner("Cu-Cr-Zr", "solution-annealed-aged", Profile.constant(1e-3)),
    materials=(),
    closeout=Closeout(copper=COPPER, jacket=NICKEL),
)


def densities() -> tuple[float, float, float]:
    names = (("Cu-Cr-Zr", "solution-annealed-aged"),)
    names += (("copper-electroformed", alloys.ANY), ("nickel-electroformed", alloys.ANY))
    liner, copper, nickel = (alloys.find(*name).alloy.density.value for name in names)
    return liner, copper, nickel


def slots(r, slope, length, wall, width, depth, count):
    """Return slots of equal size along a straight contour; sizes are numbers or (L, 1)."""
    wall, width, depth, count = (
        np.asarray(v) * np.ones(r.size) for v in (wall, width, depth, count)
    )
    step = np.full(r.size, length / (r.size - 1))
    step[0] = 0.0
    floor = r + wall * cos(slope)
    passage = Passage(
        x=np.linspace(0.0, length * cos(slope), r.size),
        r=r,
        slope_angle=np.full(r.size, slope),
        wall=wall,
        width=width,
        depth=depth,
        land=2.0 * pi * floor / count - width,
        floor_radius=floor,
        count=count,
        closeout=np.full(r.size, COPPER + NICKEL),
        step_gas=step,
        step_passage=step,
    )
    return SimpleNamespace(passage=passage)


class TestMass:
    def test_a_cylinder_with_slots(self):
        R, L, t, w, d, N = 0.04, 0.3, 0.8e-3, 1e-3, 2e-3, 90
        found = cooled_mass(DESIGN, (slots(np.full(7, R), 0.0, L, t, w, d, N),))
        radii = np.cumsum([R, t + d, COPPER, NICKEL])
        liner, copper, nickel = pi * np.diff(radii**2) * L
        rho = densities()
        by_hand = rho[0] * (liner - N * w * d * L) + rho[1] * copper + rho[2] * nickel
        assert found == pytest.approx(by_hand, rel=ROUNDING)

    def test_a_cone_with_slots(self):
        # layers cut square at both ends: their section times the way of its centre
        slope, L, t, w, d, N = radians(25.0), 0.1, 0.9e-3, 0.8e-3, 1.5e-3, 60
        r = 0.02 + np.linspace(0.0, L * sin(slope), 11)
        found = cooled_mass(DESIGN, (slots(r, slope, L, t, w, d, N),))

        def layer(inside: float, thickness: float) -> float:
            middle = r.mean() + (inside + 0.5 * thickness) * cos(slope)
            return 2.0 * pi * middle * thickness * L

        volumes = (
            layer(0.0, t + d) - N * w * d * L,
            layer(t + d, COPPER),
            layer(t + d + COPPER, NICKEL),
        )
        assert found == pytest.approx(np.dot(densities(), volumes), rel=ROUNDING)

    def test_many_designs_and_circuits(self):
        r = np.full(5, 0.03)
        walls, counts = np.array([[0.6e-3], [1.2e-3]]), np.array([[50.0], [70.0]])
        many = cooled_mass(DESIGN, (slots(r, 0.0, 0.1, walls, 1e-3, 2e-3, counts),) * 2)
        for n in range(2):
            one = slots(r, 0.0, 0.1, float(walls[n, 0]), 1e-3, 2e-3, float(counts[n, 0]))
            assert many[n] == pytest.approx(2.0 * float(cooled_mass(DESIGN, (one,))), rel=ROUNDING)


class TestSizesAlongX:
    @pytest.mark.parametrize("nodes", [1, 2, 3, 7])
    def test_many_profiles_are_each_of_them_alone_bit_for_bit(self, nodes):
        draws = np.random.default_rng(3 + nodes)
        x = np.sort(draws.uniform(-0.2, 0.1, nodes))
        values = draws.uniform(0.5e-3, 3e-3, (20, nodes))
        places = np.concatenate([draws.uniform(-0.25, 0.15, 300), x, [-1.0, 1.0]])
        found = Profiles(x, values).at(places)
        for n in range(20):
            alone = Profile(tuple(x), tuple(values[n])).at(places)
            assert np.array_equal(found[n], alone)

    def test_they_are_straight_between_nodes_and_held_beyond(self):
        profiles = Profiles(np.array([0.0, 2.0]), np.array([[1.0, 3.0], [5.0, 5.0]]))
        found = profiles.at(np.array([-1.0, 0.0, 0.5, 2.0, 9.0]))
        assert found.tolist() == [[1.0, 1.0, 1.5, 3.0, 3.0], [5.0] * 5]
        raised = profiles.off([1.0, -1.0]).at(np.array([1.0]))
        assert raised.tolist() == [[3.0], [6.0], [1.0], [4.0]]


class TestSlots:
    # count, wall, width, depth [mm] and whether the shop can cut them round the demo's contour:
    # its throat of 19 mm has a pitch of 2 pi 19.8/80 = 1.55 mm, and 28.5 mm of curvature ahead
    CUT = (
        ((80, 0.8, 0.8, 2.0), True),
        ((80, 0.8, 1.6, 2.0), False),
        ((75, 0.8, 1.6, 2.0), True),
        ((80, 0.8, -0.1, 2.0), False),
        ((80, 0.8, 0.8, 0.0), False),
        ((80, -0.1, 0.8, 2.0), False),
        ((60, 0.8, 0.8, 70.0), False),
    )

    def test_those_that_can_be_cut(self):
        design = load_case(CASES / "a-methane.toml").design
        prepared = prepare(design)
        x, channels = prepared.paths[0].x, design.channels
        ground = ground_of(prepared.contour, channels, x)
        given = np.array([sizes for sizes, _ in self.CUT])
        wall, width, depth = (Profiles(np.zeros(1), 1e-3 * given[:, [k]]) for k in (1, 2, 3))
        counts = np.repeat(given[:, :1], ground.counts.size, axis=1)
        found = can_be_cut(ground, Sizes(wall, width, depth), counts)
        assert found.tolist() == [wanted for _, wanted in self.CUT]
        for sizes, wanted in self.CUT:
            t, w, d = (Profile.constant(1e-3 * size) for size in sizes[1:])
            own = replace(channels, count=int(sizes[0]), width=w, depth=d)
            liner = replace(design.liner, wall=t)
            with nullcontext() if wanted else pytest.raises(GeometryError):
                build_passage(prepared.contour, own, liner, 3e-3, x)

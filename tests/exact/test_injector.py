"""Pressure at the injector's face of a case that gives the nozzle's, by the barrel's momentum."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from regen.case.read import load_case
from regen.checks.stations import injector_pressure
from regen.physics import arrays as A
from regen.solver.prepare import prepare
from tests.helpers.places import WATER


def test_it_is_the_barrel_s_pressure_and_momentum():
    core = np.zeros((1, 2, 2, A.N_CORE))  # circuits, enthalpies, stations
    for n, row in enumerate(((1.0, 17e5, 2.4, 1200.0), (0.1, 29e5, 4.0, 200.0))):
        core[..., n, [A.G_MACH, A.G_P, A.G_RHO, A.G_U]] = row
    chamber = SimpleNamespace(pressure=30e5, pressure_at="nozzle")
    design = SimpleNamespace(chamber=chamber)
    runs = np.zeros((2, 1), dtype=A.RUN)
    made = SimpleNamespace(
        design=design, designs=(design,) * 2, gas=SimpleNamespace(core=core), runs=runs
    )
    # 29 bar, and 4.0 x 200^2 = 1.6 bar
    assert injector_pressure(made) == pytest.approx([30.6e5, 30.6e5], rel=1e-12)
    # a second design with a gas of its own, at rest
    other = core.copy()
    other[..., A.G_U] = 0.0
    made.gas.core = np.concatenate([core, other])
    runs["gas"][1] = 1
    assert injector_pressure(made) == pytest.approx([30.6e5, 29e5], rel=1e-12)
    chamber.pressure_at = "injector"
    assert injector_pressure(made).tolist() == [30e5, 30e5]


def test_it_is_above_the_stagnation_pressure_by_half_of_gamma_mach_squared():
    # p (1 + gamma M^2) over p (1 + (gamma - 1)/2 M^2)^(gamma/(gamma - 1)), for small M
    prepared = prepare(load_case(WATER, ["chamber.pressure_at=nozzle"]).design)
    core = prepared.gas.core[0, 0]
    mach = core[:, A.G_MACH].min()
    assert 0.08 < mach < 0.12  # a contraction of six
    excess = injector_pressure(prepared)[0] / 10e5 - 1.0
    # the isentropic exponent of the equilibrium, 1.1 to 1.2
    assert 0.5 * 1.05 * mach**2 < excess < 0.5 * 1.3 * mach**2

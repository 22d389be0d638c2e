"""Throttling goes as physics says: flux about as p^0.8, flows as p over c*."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from regen.case.read import load_case
from regen.checks.review import review
from regen.physics.gasside import bartz, station_scaling, throat_scaling
from regen.studies.envelope.axes import axes_of
from regen.studies.envelope.operation import Following
from regen.studies.envelope.study import envelope
from tests.helpers.places import CASES

FLUX = 0.015
"""c* changes by 1 %, so (p0/c*)^0.8 by 0.8 %; transport of the hotter gas and the place of the
peak by a few parts in a thousand."""

C_STAR = 0.015
"""c* of these propellants changes by less between 40 and 110 % of the pressure."""

SAME = 1e-9
"""An identity of the march's own sums: nothing but rounding is left."""


@pytest.fixture(scope="module", params=["a-methane", "b-hydrogen"])
def line(request):
    """The throttle line with a constant feed, so that the coolant itself changes least."""
    design = load_case(CASES / f"{request.param}.toml", ("models.stations=31",)).design
    ranges = {"chamber_pressure": "40%:110%:4", "mixture_ratio": "99%:101%:2"}
    found = envelope(design, axes_of(ranges, design), Following("constant"))
    own = found.nominal
    rows = [row for row in found.rows if row.on_line]
    assert all(row.solved for row in rows)
    ratio = np.array([row.point.chamber_pressure for row in rows]) / own.point.chamber_pressure

    def over_own(name):
        return np.array([row.summary[name] / own.summary[name] for row in rows])

    return ratio, over_own, design, rows


def test_the_closed_form_goes_as_the_pressure_to_0_8_at_a_fixed_wall_temperature():
    coefficients = []
    for p0 in (12e5, 30e5):
        h_throat = throat_scaling(1e-4, 2200.0, 0.6, p0, 1780.0, 0.038, 0.018)
        h_flow, rise = station_scaling(h_throat, 1.15, 1.0, 1.0)
        coefficients.append(bartz(h_flow, rise, 3400.0, 750.0))
    assert coefficients[0] / coefficients[1] == pytest.approx(0.4**0.8, rel=1e-14)


def test_peak_flux_goes_as_the_pressure_to_0_8_at_the_same_temperatures(line):
    """The closed form by hand: what the wall's and the gas's own temperatures do is taken out.

    The temperatures come from solves of the case with its pressure changed by hand.
    """
    ratio, over_own, design, rows = line
    temperatures = []
    for row in rows:
        chamber = replace(design.chamber, pressure=row.point.chamber_pressure)
        by_hand = review(replace(design, chamber=chamber))
        assert by_hand.summary["q_max_W_m2"] == pytest.approx(row.summary["q_max_W_m2"], rel=SAME)
        s, peak = by_hand.stations, int(np.argmax(by_hand.stations["q_W_m2"]))
        T_gas = by_hand.summary["chamber_temperature_K"]
        T_wall = s["T_wall_hot_mean_K"][peak]
        sigma = (0.5 * T_wall / T_gas + 0.5) ** -0.68
        temperatures.append((s["T_aw_K"][peak] - T_wall) * sigma)
    own = next(i for i, row in enumerate(rows) if row.nominal)
    reduced = over_own("q_max_W_m2") / (np.array(temperatures) / temperatures[own])
    np.testing.assert_allclose(reduced, ratio**0.8, rtol=FLUX)


def test_hot_gas_flow_is_pressure_times_throat_over_c_star(line):
    ratio, over_own, _, _ = line
    flow = over_own("gas_mass_flow_kg_s")
    stagnation = over_own("nozzle_stagnation_pressure_Pa")
    expected = stagnation / over_own("characteristic_velocity_m_s")
    np.testing.assert_allclose(flow, expected, rtol=SAME)
    np.testing.assert_allclose(flow, ratio, rtol=C_STAR)


def test_coolant_flow_goes_about_as_the_pressure_and_is_all_of_the_fuel(line):
    ratio, over_own, design, rows = line
    np.testing.assert_allclose(over_own("coolant_mass_flow_kg_s"), ratio, rtol=C_STAR)
    for row in rows:
        fuel = row.summary["gas_mass_flow_kg_s"] / (1.0 + design.propellants.mixture_ratio)
        assert row.summary["coolant_mass_flow_kg_s"] == pytest.approx(fuel, rel=SAME)

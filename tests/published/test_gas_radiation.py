"""Radiation against a separate calculation of three combustion gases, and the form's own points."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest

from regen.design import Chamber, Propellants
from regen.gas import radiation as gas_radiation
from regen.gas import table as hotgas
from regen.gas.nozzle import N_T0
from regen.gas.radiation import CO2, H2O, emissivity, flux, single
from tests.published.ledger import Check, judge

DATA = tomllib.loads((Path(__file__).parent / "radiation.toml").read_text())
# Two digits are printed, so up to 2.5 % of the smallest, and the separate study's gas differs by
# 5 K and its transport by nothing that radiates.
TWO_DIGITS = 0.03
PRINTED = 0.005  # emissivities printed with two decimals


def barrel_checks(row):
    for bar, expected in zip(row["pressure_bar"], row["flux_MW_m2"], strict=True):
        table = hotgas.gas_table(
            Propellants("oxygen", row["fuel"], row["mixture_ratio"]),
            Chamber(bar * 1e5, "nozzle"),
            contraction_ratio=3.0,
            area_ratio_max=5.0,
        )
        x = hotgas.radiating_fractions(table, np.array([3.0]), np.array([False]))
        T0, p = np.array([table.nozzle[0, N_T0]]), np.array([bar * 1e5])
        diameter = np.array([row["throat_diameter_m"] * math.sqrt(3.0)])
        found = flux(T0, p, *x, diameter) / gas_radiation.WALL_FACTOR
        yield Check(
            row["source"], "radiation on a cold wall, barrel of contraction ratio 3",
            f"{row['fuel']}, {bar:g} bar", expected, float(found[0]) / 1e6, TWO_DIGITS,
            "two digits; the same recalled coefficients", "MW/m2",
        )  # fmt: skip
        # never more than a black body
        assert found[0] < 5.670374e-8 * T0[0] ** 4


@pytest.mark.parametrize("row", DATA["barrel"], ids=lambda row: row["fuel"])
def test_barrel_of_contraction_ratio_three(row):
    judge(barrel_checks(row))


def ones(value):
    return np.array([float(value)])


SINGLE = ((ones(0.5), ones(0.0)), (ones(0.0), ones(0.3)))


def emissivity_checks():
    # a trace of the gas in one bar over so long a path that pL is 100 bar cm
    trace, row = 1e-6, DATA["thousand_kelvin"]
    for gas, name in ((H2O, "H2O"), (CO2, "CO2")):
        found = single(gas, ones(1000), ones(1e5), ones(trace * 1e5), ones(1.0 / trace))
        yield Check(
            row["source"], "emissivity at 1000 K, 100 bar cm", name, row[name], float(found[0]),
            PRINTED, "two decimals", absolute=True,
        )  # fmt: skip


def test_emissivity_at_a_thousand_kelvin():
    judge(emissivity_checks())


BY_HAND = 2e-4  # worked with four to five digits


def test_pressure_broadens_as_worked_by_hand():
    # pure H2O, 1 bar, 1000 K, pL 100 bar cm: P = 3.56, a = 1.888, b = 1.10, (pL)_m = 13.2,
    # 1 + 0.888 * 2.56/5.548 * exp(-0.5 * 0.7734) = 1.2783; e0 = exp(-1.0245) = 0.35897
    pure = ones(1000), ones(1e5), ones(1e5)
    assert single(H2O, *pure, ones(1.0))[0] == pytest.approx(1.2783 * 0.35897, rel=BY_HAND)
    # pure CO2, pL 1 bar cm: P = 1.28, a = 1.1, b = 0.23, (pL)_m = 0.225,
    # 1 + 0.1 * 0.28/1.61 * exp(-1.47 * 0.41966) = 1.009385; e0 = exp(-2.93887) = 0.052926
    assert single(CO2, *pure, ones(0.01))[0] == pytest.approx(1.009385 * 0.052926, rel=BY_HAND)


def test_above_2500_K_the_emissivity_is_held():
    at = ones(50e5), ones(0.5), ones(0.12), ones(0.15)
    assert emissivity(ones(3500), *at) == pytest.approx(emissivity(ones(2500), *at), rel=1e-12)
    assert emissivity(ones(2400), *at) != pytest.approx(emissivity(ones(2500), *at), rel=1e-3)
    # the flux goes on with the gas's own temperature
    hot, hotter = (flux(ones(T), *at) for T in (2500, 3500))
    assert hotter / hot == pytest.approx((3500 / 2500) ** 4, rel=1e-12)


def test_no_emissivity_is_above_a_black_bodys():
    assert emissivity(ones(1500), ones(300e5), ones(0.9), ones(0.0), ones(3.0))[0] <= 1.0


def test_a_gas_without_either_does_not_radiate_and_the_two_share_bands():
    T, p, L = ones(2000), ones(20e5), ones(0.1)
    trace = ones(1e-12)
    assert flux(T, p, trace, trace, L)[0] == 0.0
    water, dioxide = (emissivity(T, p, a, b, L)[0] for a, b in SINGLE)
    both = emissivity(T, p, ones(0.5), ones(0.3), L)[0]
    assert max(water, dioxide) < both < water + dioxide

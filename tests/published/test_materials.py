import math

import numpy as np
import pytest

from regen.properties.alloys import ANY, find

# Fit of one source against another: NIST states 1-2 % for its conductivity fit.
NIST_FIT = 0.01
# The table is this formula at its nodes; between them a straight line is within this.
LINE = 0.005
# Handbook values of pure copper, joined to the formula.
HANDBOOK = 0.010
# Two fits of one report to the same measurements of Cu-8Cr-4Nb.
TWO_FITS = 0.015
# Mean against integrated instantaneous expansion of one table.
EXPANSION = 0.01


def conductivity(alloy, T):
    return find(alloy, ANY).value("thermal_conductivity", T).value


def hust_lankford(T, RRR=100.0):
    """NBSIR 84-3007, copper constants as printed by Bottura and Rosso (second-hand)."""
    beta = 1.54e-8 / (RRR - 1.0) / 2.443e-8
    W_c = (
        -0.00012 * np.log(T / 420) * np.exp(-((np.log(T / 470) / 0.7) ** 2))
        - 0.00016 * np.log(T / 73) * np.exp(-((np.log(T / 87) / 0.45) ** 2))
        - 0.00002 * np.log(T / 18) * np.exp(-((np.log(T / 21) / 0.5) ** 2))
    )
    W_0 = beta / T
    phonon = 1.754e-8 * T**2.763
    phonon /= 1.0 + 1.754e-8 * 1102.0 * T ** (2.763 - 0.165) * np.exp(-((70.0 / T) ** 1.765))
    W_i = phonon + W_c
    P_7 = 0.838 / (beta / 0.0003) ** 0.1661
    return 1.0 / (W_0 + W_i + P_7 * W_i * W_0 / (W_i + W_0))


def log_polynomial(T, coefficients):
    return 10.0 ** sum(c * math.log10(T) ** i for i, c in enumerate(coefficients))


@pytest.mark.parametrize(("T", "k"), [(77.0, 547.2), (293.15, 396.9)])
def test_copper_conducts_as_the_cryogenic_fit_says(T, k):
    # NIST cryogenic material properties, OFHC copper, RRR 100 (seen; values computed)
    assert conductivity("Cu-OFHC", T) == pytest.approx(k, rel=NIST_FIT)


@pytest.mark.parametrize(("T", "k"), [(300.0, 397.0), (600.0, 379.3), (900.0, 358.7)])
def test_copper_conducts_as_the_full_range_formula_says(T, k):
    assert conductivity("Cu-OFHC", T) == pytest.approx(k, rel=0.003)


def test_copper_table_follows_its_formula_between_the_nodes():
    T = np.linspace(77.0, 1000.0, 400)
    assert conductivity("Cu-OFHC", T) == pytest.approx(hust_lankford(T), rel=LINE)


def test_copper_joins_the_handbook():
    # Touloukian/CRC recommended values of pure copper (memory-high)
    T = [300.0, 400.0, 500.0, 600.0, 700.0, 800.0, 900.0, 1000.0]
    k = [401.0, 393.0, 386.0, 379.0, 373.0, 366.0, 359.0, 352.0]
    assert conductivity("Cu-OFHC", T) == pytest.approx(k, rel=HANDBOOK)


def test_copper_heat_capacity_and_expansion():
    copper = find("Cu-OFHC", "annealed")
    coefficients = [-1.91844, -0.15973, 8.61013, -18.996, 21.9661, -12.7328, 3.54322, -0.3797]
    for T in (77.0, 150.0, 250.0):
        expected = log_polynomial(T, coefficients)  # NIST fit, stated error 5 %
        assert copper.value("specific_heat", T).value == pytest.approx(expected, rel=LINE)
    # NASA CR-134806 typical room-temperature value (second-hand), not in the table
    assert copper.value("specific_heat", 293.15).value == pytest.approx(386.0, rel=0.01)
    coefficients = [
        -17.9081289,
        67.131914,
        -118.809316,
        109.9845997,
        -53.8696089,
        13.30247491,
        -1.30843441,
    ]
    expected = 1e-6 * log_polynomial(293.0, coefficients)
    looked = copper.value("thermal_expansion_instantaneous", 293.0)
    assert looked.value == pytest.approx(expected, rel=LINE)


def test_copper_chromium_niobium_conductivity_has_its_maximum():
    # NASA/CR-2000-210055 Eq. 17 (second-hand); the table is its Eq. 15
    T = np.array([300.0, 400.0, 500.0, 600.0, 700.0, 800.0, 900.0, 1000.0, 1100.0])
    ln = np.log(T)
    expected = 6893.0 - 3466.0 * ln + 599.5 * ln**2 - 34.18 * ln**3
    k = conductivity("Cu-Cr-Nb-8-4", T)
    assert k == pytest.approx(expected, rel=TWO_FITS)
    assert 600.0 <= T[np.argmax(k)] <= 700.0
    assert conductivity("Cu-Cr-Nb-8-4", [500.0, 700.0]) == pytest.approx([300.3, 304.3], rel=1e-3)


def test_mean_expansion_is_the_average_of_the_instantaneous():
    # NASA/TM-2007-214663 Table 12 (second-hand): mean 20-480 degC 18.1e-6
    alloy = find("Cu-Cr-Zr", "solution-annealed-aged")
    reference = alloy.alloy.expansion_reference.value
    T = np.linspace(reference, 753.15, 200)
    mean = np.mean(alloy.value("thermal_expansion_instantaneous", T).value)
    tabulated = alloy.value("thermal_expansion_mean", 753.15).value
    assert tabulated == pytest.approx(18.1e-6, rel=1e-12)
    assert mean == pytest.approx(tabulated, rel=EXPANSION)


def test_stainless_steel_at_low_temperature():
    # NIST cryogenic fits of 304 and 316 (second-hand)
    k = log_polynomial(77.0, [-1.4087, 1.3982, 0.2543, -0.6260, 0.2334, 0.4256, -0.4658, 0.1650,
                              -0.0199])  # fmt: skip
    assert conductivity("316L", 77.0) == pytest.approx(k, rel=LINE)
    T = 77.0
    E = 207.9488e9 + 73942410 * T - 962720 * T**2 + 2845.56 * T**3 - 3.2408 * T**4
    looked = find("316L", "annealed-minimum").value("youngs_modulus", T)
    assert looked.value == pytest.approx(E, rel=LINE)


def test_rejected_starter_data_did_not_get_in():
    # A copied file gives yields of 360/320/270/210/170 MPa for Cu-8Cr-4Nb; its own cited report
    # has 196/172/140/87/27 MPa at 25/200/400/600/800 degC (two transcriptions agree).
    T = np.array([25.0, 200.0, 400.0, 600.0, 800.0]) + 273.15
    looked = find("Cu-Cr-Nb-8-4", "as-received").value("yield", T)
    assert looked.value == pytest.approx([196e6, 172e6, 140e6, 87e6, 27e6], rel=1e-12)
    # and 6061 at 260 degC of 90 MPa, where long exposure leaves 34
    hot = find("6061-T6", "10000-h-exposure").value("yield", 533.15)
    assert hot.value == pytest.approx(34e6, rel=1e-12)

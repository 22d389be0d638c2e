"""Fins of textbooks through the wall form.

The land is used as a fin by making the rest of the wall perfect or absent: a hot wall of huge
conductivity, a closeout of none.
"""

from __future__ import annotations

import math

import pytest

from regen.physics.wall import first_mode, wall_form
from tests.published.ledger import Check, judge

# Inputs and results are printed to three or four digits.
PRINTED = 3e-3
# Charts of fin efficiency are the same tanh; their table values have four digits.
TABLE = 2e-4


def land(w, t, d, k, h, taper=0.0):
    """Return the land's conductance [W/(m K)] and efficiency on a hot wall without resistance."""
    mode = first_mode(w, t, 1e-3)
    h_eff, _, _, efficiency = wall_form(mode, w, t, d, 1e-3, taper, 1e12, k, 1e-12, h, h, 1.0)
    return h_eff * (w + t) - h * w, efficiency


def array_checks():
    """Example 3.11; source incropera_examples: inputs second-hand, results computed from them.

    Two plates 50 mm x 50 mm x 2 mm, on both together 22 fins 1 mm thick and 8 mm high, k 200,
    h 19.1 W/m2K, 11.25 W, air at 25 degC, a contact of 1e-3 m2K/W: m 13.96, efficiency 0.9959,
    64.43 K/W a fin, 2.404 K/W the array, 2.606 K/W in all, 54.3 degC.
    """
    k, t, L, W, count, h = 200.0, 1e-3, 8e-3, 50e-3, 22, 19.1
    gap = 2 * 50e-3 / count - t
    # the fin's narrow edges are wetted too: its perimeter is 2 (W + t), not 2 W
    wetted = h * (W + t) / W
    conductance, efficiency = land(gap, t, L, k, wetted)
    one = 1.0 / (conductance * W)
    bare = 2 * W * 50e-3 - count * W * t
    array = 1.0 / (count / one + h * bare)
    plates = 2 * W * 50e-3
    total = array + 2e-3 / (k * plates) + 1e-3 / plates
    for what, theirs, ours, tolerance in (
        ("m, 1/m", 13.96, math.sqrt(2 * wetted / (k * t)), PRINTED),
        ("efficiency", 0.9959, efficiency, TABLE),
        ("one fin, K/W", 64.43, one, PRINTED),
        ("the array, K/W", 2.404, array, PRINTED),
        ("in all, K/W", 2.606, total, PRINTED),
        ("base, degC", 54.3, 25.0 + 11.25 * total, PRINTED),
    ):
        series = "array of rectangular fins"
        yield Check(
            "incropera_examples", series, what, theirs, ours, tolerance, "printed digits",
            own_mark="computed",
        )  # fmt: skip


def test_array_of_rectangular_fins_under_a_fuel_cell():
    judge(array_checks())


# tanh(m L)/(m L) as tables of fin efficiency print it; mark: memory-high, any such table.
EFFICIENCIES = [(0.5, 0.9242), (1.0, 0.7616), (2.0, 0.4820), (3.0, 0.3317)]


def efficiency_checks(mL, efficiency):
    t, k, d = 1e-6, 400.0, 5e-3
    h = k * t / 2 * (mL / d) ** 2
    conductance, mean = land(1e-3, t, d, k, h)
    series = "straight fin"
    for what, theirs, ours in (
        ("efficiency", efficiency, mean),
        ("conductance", 2 * h * d * efficiency, conductance),
    ):
        yield Check(
            "fin_tables", f"{series}: {what}", f"m L = {mL:g}", theirs, ours, TABLE, "four digits"
        )


@pytest.mark.parametrize(("mL", "efficiency"), EFFICIENCIES)
def test_efficiency_of_a_straight_fin(mL, efficiency):
    judge(efficiency_checks(mL, efficiency))


def test_the_fin_grows_longer_in_vain():
    """Beyond m L = 3 a fin takes sqrt(2 h k t) whatever its length: tanh(3) = 0.9951."""
    t, k, h = 1e-6, 400.0, 1e4
    m = math.sqrt(2 * h / (k * t))
    limit = math.sqrt(2 * h * k * t)
    assert land(1e-3, t, 3 / m, k, h)[0] == pytest.approx(0.9951 * limit, rel=TABLE)
    assert land(1e-3, t, 20 / m, k, h)[0] == pytest.approx(limit, rel=TABLE)

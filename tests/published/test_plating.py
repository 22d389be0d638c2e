"""Plating against figures that others printed: Faraday, a plater's table, debond, hydrogen."""

import numpy as np
import pytest

from regen.shop.plating import deposit_stress as ds
from regen.shop.plating.baths import bath
from regen.shop.plating.faraday import metal
from regen.shop.plating.hydrogen import embrittlement
from tests.published.ledger import Check, Window, judge

HOUR = 3600.0
# rows of the table: thickness [um], current densities [A/dm2], minutes at 95 %, last digit printed
TABLE = (
    (2.0, (0.5, 1, 1.5, 2, 3, 4, 5, 6, 8, 10, 12),
     (20, 10, 6.8, 5.1, 3.4, 2.6, 2, 1.7, 1.3, 1.0, 0.9),
     (1, 1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1)),
    (4.0, (0.5, 1, 1.5, 2), (41, 20, 14, 10), (1, 1, 1, 1)),
    (6.0, (0.5, 1, 1.5, 2, 3), (61, 31, 20, 15, 10), (1, 1, 1, 1, 1)),
)  # fmt: skip


def faraday_checks():
    nickel, copper = metal("nickel"), metal("copper")
    # the exercise has its own equivalent and density
    grown = nickel.growth(40.0, 1.0) * 2 * HOUR * 1e6
    reason = "its own equivalent, 30.4e-8 kg/C, and density, 8900 kg/m3"
    yield Check(
        "plating_exercise", "nickel by 40 A/m2 in 2 h", "1", 9.84, grown, 5e-3, reason, "um"
    )
    for name, of, theirs in (("nickel", nickel, 12.29), ("copper", copper, 13.23)):
        ours = of.growth(100.0, 1.0) * HOUR * 1e6
        yield Check("faraday_law", f"{name} an hour by 1 A/dm2", "1", theirs, ours, 5e-4, "digits")
    for name, of, theirs in (("nickel", nickel, 1.095), ("copper", copper, 1.1855)):
        ours = of.equivalent * HOUR * 1e3
        yield Check("faraday_law", f"{name} by 1 Ah", "1", theirs, ours, 5e-4, "digits", "g")
    for thickness, densities, minutes, digits in TABLE:
        for j, theirs, digit in zip(densities, minutes, digits, strict=True):
            ours = thickness * 1e-6 / nickel.growth(100.0 * j, 0.95) / 60.0
            # half of the last digit, and 1 % for its density
            off = 0.5 * digit + 0.01 * theirs
            point = f"{thickness:g} um at {j:g} A/dm2"
            yield Check("plating_table", "nickel at 95 %", point, theirs, ours, off,
                        "rounding of the table", "min", absolute=True)  # fmt: skip
    weight = 2e-6 * 0.01 * nickel.density * 1e3
    yield Check("plating_table", "2 um of nickel on 1 dm2", "1", 0.18, weight, 0.02, "digits", "g")


def practice_windows():
    of = bath("sulfamate")
    usual = metal("nickel").growth(of.current_density.value, of.efficiency.value) * HOUR * 1e6
    yield Window("common_practice", "growth of a usual bath", "1", 20.0, 30.0, usual,
                 "baths deposit 20 to 30 um/h", "um/h")  # fmt: skip
    # a bench-scale part: about 72 h for about 0.5 mm, an effective 7 um/h
    hours = 0.5e-3 / (7e-6 / HOUR) / HOUR
    yield Window("common_practice", "0.5 mm at 7 um/h", "1", 68.0, 76.0, hours, "about 72 h", "h")


def debond_checks():
    E, nu = 180e9, 0.31
    reason = "printed to two or three digits"
    for s, theirs in ((20, 4.6), (50, 28.7), (100, 115.0), (150, 259.0)):
        ours = float(ds.stored_energy(s * 1e6, 3e-3, E, nu))
        yield Check("hutchinson_suo1992", "stored energy, 3 mm", f"{s} MPa", theirs, ours, 0.01,
                    reason, "J/m2", own_mark="computed")  # fmt: skip
    for toughness, theirs in ((250.0, 2.9), (315.0, 3.7)):
        ours = 1e3 * float(ds.critical_thickness(150e6, toughness, E, nu))
        point = f"{toughness:g} J/m2"
        yield Check("nickel_on_steel", "thickness that 150 MPa lifts", point, theirs, ours, 0.015,
                    "printed to two digits", "mm", own_mark="computed")  # fmt: skip


def test_faraday_and_a_platers_table():
    judge(faraday_checks())


def test_common_practice():
    judge(practice_windows())


def test_stored_energy_and_debond():
    judge(debond_checks())


@pytest.mark.parametrize(
    ("alloy", "kind", "ratio"),
    [
        ("nickel-electroformed", "extreme", 0.31),
        ("N07718", "extreme", 0.46),
        ("304L", "slight", 0.87),
        ("316L", "negligible", 1.0),
        ("Cu-OFHC", "negligible", 1.0),
        ("Cu-Ag-Zr", "negligible", 1.1),
        ("6061-T6", "negligible", 1.1),
    ],
)
def test_metals_in_hydrogen(alloy, kind, ratio):
    # notched strength in hydrogen over helium at 69 MPa, as the table is recalled
    assert embrittlement(alloy) == (kind, ratio)


def test_windows_are_those_read():
    # 10-40 A/ft2 and 145 degF
    low, high = bath("sulfamate").window_low, bath("sulfamate").window_high
    ft2 = 0.3048**2
    assert low.value == pytest.approx(10 / ft2, rel=5e-3)
    assert high.value == pytest.approx(40 / ft2, rel=5e-3)
    assert bath("sulfamate").temperature_high.value == pytest.approx((145 + 459.67) / 1.8, abs=0.1)
    assert np.isclose(bath("acid-copper").window_low.value, 15 / ft2, rtol=5e-3)

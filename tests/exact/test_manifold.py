"""Flow split between ring manifolds: closed forms of headers, a count by hand, conservation."""

from __future__ import annotations

import math

import numpy as np
import pytest

from regen.design import Manifolds
from regen.solver.manifolds import End, NoSplitError, Ring, rings, split

DROP, FLOW, RHO = 2e5, 0.6, 700.0

# Momentum: slots bring none along the outlet ring, so its pressure falls by rho u^2 in all.
COMBINING = 2.0

ROUNDING = 1e-11  # sums of some hundred terms
GRID = 1.0  # error of the second-order scheme times the square of the slots of one header
EXPANSION = 2.5  # second term over the square of the first, of the expansions for small heads


def ring(name: str, head: float, factor: float, *, taps=2, turn=0.0, length=0.0) -> Ring:
    """Return a ring with a dynamic head over the slots' drop, its length over bore, smooth."""
    velocity = math.sqrt(2.0 * head * DROP / RHO)
    bore = math.sqrt(4.0 * FLOW / (2.0 * taps * RHO * velocity) / math.pi)
    radius = max(length, 1e-12) * bore * taps / math.pi  # length: from a tap to midway
    return Ring(name, radius, bore, taps, turn, 1e9, RHO, 1e-4, 0.0, factor)


def places(count: int, taps: int) -> np.ndarray:
    """Places of the slots of one header, 0 beside the tap and 1 midway."""
    one = count // (2 * taps)
    return (np.arange(one) + 0.5) / one


@pytest.mark.parametrize("r", [0.05, 0.5, 1.5, 2.2])
@pytest.mark.parametrize("count", [80, 320])
def test_recovery_alone(r, count):
    """phi'' = -r phi in the dividing, +r phi in the combining header."""
    z, q = places(count, 2), math.sqrt(r)
    inlet = split(count, FLOW, DROP, (ring("inlet", r / 0.7, 0.7),))
    outlet = split(count, FLOW, DROP, (ring("outlet", r / COMBINING, COMBINING),))
    one = z.size
    assert inlet.share[:one] == pytest.approx(
        q * np.cos(q * (1 - z)) / math.sin(q), abs=GRID / one**2
    )
    assert outlet.share[:one] == pytest.approx(
        q * np.cosh(q * (1 - z)) / math.sinh(q), abs=GRID / one**2
    )
    assert inlet.where == "beside an inlet tap"
    assert outlet.where == "midway between two outlet taps"


@pytest.mark.parametrize("n", [1.2, 2.0])
@pytest.mark.parametrize("r", [0.003, 0.03])
def test_recovery_spreads_by_the_head_over_the_drop(n, r):
    """Small r: 2 r/(3 n) less beside a tap, r/(3 n) more midway."""
    found = split(400, FLOW, DROP, (ring("inlet", r, 1.0),), n)
    z = places(400, 2)
    shape = (r / 3.0 - r * (1.0 - z) ** 2) / n
    assert found.share[: z.size] - 1.0 == pytest.approx(
        shape, abs=EXPANSION * r**2 + GRID * r / 1e4
    )
    assert found.shortfall == pytest.approx(2.0 * r / 3.0 / n, rel=0.05)  # the slot is not at z = 0


@pytest.mark.parametrize(("name", "factor"), [("inlet", 0.0), ("outlet", 0.0)])
@pytest.mark.parametrize("n", [1.5, 2.0])
def test_friction_alone(name, factor, n):
    """Small F = f L V/(D drop): F/(4 n) more beside a tap, F/(12 n) less midway."""
    only = ring(name, 0.02, factor, length=30.0)
    F = only.friction(FLOW) * 30.0 * 0.02
    found = split(400, FLOW, DROP, (only,), n)
    z = places(400, 2)
    shape = (F / 4.0 - F / 3.0 * (1.0 - (1.0 - z) ** 3)) / n
    assert found.share[: z.size] - 1.0 == pytest.approx(
        shape, abs=EXPANSION * F**2 + GRID * F / 1e4
    )
    assert found.where == f"midway between two {name} taps"


def test_rings_in_line_may_cancel_and_turned_ones_add():
    """Equal K V: no spread in line; turned by half a spacing r/n (2 z - 1), exactly linear."""
    r, count = 0.01, 240
    pair = (
        ring("inlet", r / 0.5, 0.5, taps=3),
        ring("outlet", r / COMBINING, COMBINING, taps=3),
    )
    assert split(count, FLOW, DROP, pair).share == pytest.approx(np.ones(count), abs=ROUNDING)
    turned = ring("outlet", r / COMBINING, COMBINING, taps=3, turn=math.pi / 3)
    found = split(count, FLOW, DROP, (pair[0], turned))
    z = places(count, 3)
    shape = r / 2.0 * (2.0 * z - 1.0)
    assert found.share[: z.size] - 1.0 == pytest.approx(
        shape, abs=EXPANSION * r**2 + GRID * r / 1e3
    )


def test_rings_of_a_case_by_hand(constant_coolant):
    given = Manifolds(8e-3, 2, 9e-3, 3, outlet_turn=0.2, recovery=0.6)
    ends = End(0.05, 3000.0 * 300.0, 90e5), End(0.06, 3000.0 * 400.0, 80e5)
    inlet, outlet = rings(given, constant_coolant, *ends, 1e-6)
    # on the jacket: half a bore further out
    assert (inlet.radius, outlet.radius) == pytest.approx((0.054, 0.0645))
    assert (inlet.factor, outlet.factor) == (0.6, COMBINING)
    assert (inlet.pressure, outlet.pressure) == (90e5, 80e5)
    assert (inlet.turn, outlet.turn) == (0.0, 0.2)
    # 0.6 kg/s of 800 kg/m3 in six arms of 9 mm
    assert outlet.velocity(0.6) == pytest.approx(0.6 / 6.0 / 800.0 / (math.pi * 4.5e-3**2))


def test_a_header_counted_by_hand():
    """Walk from a tap to midway with the shares found: every slot's drop must give its share."""
    n, one = 1.6, 12
    given = (
        ring("inlet", 0.3, 0.7, length=20.0),
        ring("outlet", 0.1, COMBINING, length=8.0),
    )
    found = split(4 * one, FLOW, DROP, given, n)
    share = found.share[:one]
    push = np.zeros(one)
    for r, head, length, sense in ((given[0], 0.3, 20.0, 1.0), (given[1], 0.1, 8.0, -1.0)):
        left, pressure = float(one), 0.0  # flow in the header in mean slots; pressure in drops
        rub = r.friction(FLOW) * length / one * head
        for k in range(one):
            steps = 0.5 if k == 0 else 1.0
            pressure -= sense * steps * rub * (left / one) ** 2
            after = left - share[k]
            gain = r.factor * head * (left**2 - after**2) / one**2
            push[k] += sense * (pressure + 0.5 * gain)
            pressure += gain
            left = after
        assert left == pytest.approx(0.0, abs=1e-9)
    # the level common to all is what leaves the mean of the shares at 1
    assert share**n - push == pytest.approx(np.full(one, share[0] ** n - push[0]), abs=1e-9)


@pytest.mark.parametrize("taps", [1, 2, 3, 7])
@pytest.mark.parametrize("outlets", [1, 4])
@pytest.mark.parametrize("count", [5, 37, 160])
def test_no_flow_is_lost_or_negative(taps, outlets, count):
    pair = (
        ring("inlet", 0.4, 0.7, taps=taps, length=10.0),
        ring("outlet", 0.2, COMBINING, taps=outlets, turn=0.7, length=10.0),
    )
    found = split(count, FLOW, DROP, pair, 1.7)
    assert found.share.sum() == pytest.approx(count, rel=ROUNDING)
    assert found.share.min() > 0.0
    assert found.shortfall == pytest.approx(1.0 - found.share.min(), abs=ROUNDING)
    # both rings one slot on: the same shares, one slot on
    on = 2.0 * math.pi / count
    moved = tuple(Ring(r.name, r.radius, r.bore, r.taps, r.turn + on, *_state(r)) for r in pair)
    again = split(count, FLOW, DROP, moved, 1.7)
    assert np.roll(again.share, -1) == pytest.approx(found.share, abs=1e-9)


def _state(r: Ring) -> tuple[float, ...]:
    return r.pressure, r.density, r.viscosity, r.roughness, r.factor


def test_a_bore_without_end_feeds_all_alike():
    wide = (ring("inlet", 1e-14, 0.7), ring("outlet", 1e-14, COMBINING, turn=1.0))
    assert split(80, FLOW, DROP, wide).share == pytest.approx(np.ones(80), abs=ROUNDING)


def test_a_head_that_stops_the_slots_beside_a_tap_is_refused():
    """The closed form has no positive flow beside the tap beyond sqrt(r) = pi/2."""
    split(400, FLOW, DROP, (ring("inlet", 2.4, 1.0),))
    with pytest.raises(NoSplitError, match=r"manifolds.inlet_bore = .* no flow; give a wider bore"):
        split(400, FLOW, DROP, (ring("inlet", 2.6, 1.0),))


def test_a_head_above_the_pressure_in_the_ring_is_refused():
    low = ring("outlet", 0.5, COMBINING)
    low = Ring(low.name, low.radius, low.bore, low.taps, 0.0, 0.4 * DROP, *_state(low)[1:])
    with pytest.raises(NoSplitError, match="more than the pressure in it"):
        split(80, FLOW, DROP, (low,))


def test_slots_whose_drop_does_not_rise_with_flow_share_none():
    with pytest.raises(NoSplitError, match="share no flow stably"):
        split(80, FLOW, DROP, (ring("inlet", 0.1, 0.7),), -0.3)

"""Plating over random deposits: the thinnest place has enough, the metal is Faraday's."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from regen.shop.plating.baths import bath
from regen.shop.plating.layers import plate
from regen.shop.plating.surface import Surface
from regen.shop.plating.values import LayerSpec, Turning

# sums of some tens of cycles in double precision
SUMS = 1e-9
# A layer between stations is a cone with the mean of two thicknesses here, and a ring of two
# straight sides there; on a chamber of 41 stations they differ by less than this.
CONES = 2e-3
S = 41
FARADAY, MOLAR, VALENCE, DENSITY = 96485.33, 58.693e-3, 2.0, 8908.0

profiles = arrays(float, S, elements=st.floats(0.6, 1.9))
millimetres = st.floats(0.3, 6.0).map(lambda v: v * 1e-3)
settled = settings(max_examples=60, deadline=None, derandomize=True, database=None)


def chamber(ends=False, extra=0.0):
    """A barrel, a smooth waist, a cone: radius and slope from one formula."""
    x = np.linspace(-0.15, 0.06, S)
    r = 0.02 + 0.025 * (1.0 - np.exp(-((x / 0.06) ** 2)))
    slope = np.arctan(0.025 * np.exp(-((x / 0.06) ** 2)) * 2.0 * x / 0.06**2)
    liner = np.full(S, 0.0028)
    return Surface(x, r, np.sin(slope), np.cos(slope), liner, extra, ends)


def plated(surface, ratio, finished):
    spec = LayerSpec(
        bath=bath("sulfamate"),
        current_density=200.0,
        efficiency=0.92,
        rate=None,
        profile=None,
        finished=finished,
        stock=0.5e-3,
        deposit=None,
        temperature=323.15,
        stress=None,
        stress_source="given_in_case",
    )
    return plate(surface, spec, surface.even(ratio), Turning(1e-3, 0.2e-3, 0.0, 0.0), 0.2e-3)


@settled
@given(profiles, millimetres)
def test_the_thinnest_place_keeps_what_is_needed(ratio, need):
    surface = chamber()
    layer = plated(surface, ratio, need)
    # the bath and the lathe, station by station
    local = np.zeros(S)
    for step in layer.steps:
        assert step.growth <= 1e-3 * (1 + SUMS)
        local = local + step.growth * layer.ratio
        assert local.min() == pytest.approx(step.least_plated, rel=SUMS)
        local = np.minimum(local, step.least_to)
    assert local.min() >= need * (1 - SUMS)
    assert layer.left == pytest.approx(local, rel=SUMS)
    assert layer.as_plated.min() == pytest.approx(need + 0.5e-3, rel=SUMS)


@settled
@given(profiles, millimetres, st.floats(0.2, 1.0))
def test_hours_grow_with_the_ratio(ratio, need, tamed):
    surface = chamber()
    milder = 1.0 + tamed * (ratio / ratio.mean() - 1.0)
    wild, mild = (plated(surface, r, need) for r in (ratio / ratio.mean(), milder))
    flat = plated(surface, np.ones(S), need)
    # areas differ by a little with the shape of the layer
    little = 5e-3
    assert flat.time <= mild.time * (1 + little)
    assert mild.time <= wild.time * (1 + little)
    assert mild.deposit <= wild.deposit * (1 + SUMS)


def ring_volume(x, r, x_out, r_out):
    """Volume of rings between two outlines by Pappus: area times the way of its centroid."""
    total = 0.0
    for i in range(x.size - 1):
        px = np.array([x[i], x[i + 1], x_out[i + 1], x_out[i]])
        py = np.array([r[i], r[i + 1], r_out[i + 1], r_out[i]])
        nx, ny = np.roll(px, -1), np.roll(py, -1)
        cross = px * ny - nx * py
        area = 0.5 * cross.sum()
        total += abs(2.0 * np.pi * np.sum((py + ny) * cross) / 6.0) if area else 0.0
    return total


@settings(settled, max_examples=20)
@given(profiles, millimetres)
def test_metal_is_faradays_and_that_of_the_layer(ratio, finished):
    surface = chamber(ends=True, extra=0.01)
    smooth = np.convolve(np.pad(ratio, 4, "edge"), np.full(9, 1 / 9), "valid")
    layer = plated(surface, smooth, finished)
    for step in layer.steps:
        charge = step.current_density * step.area * step.time
        by_faraday = charge * 0.92 * MOLAR / (VALENCE * FARADAY)
        assert step.mass == pytest.approx(by_faraday, rel=SUMS)
        base = 0.2e-3 + step.least_from
        grown = base + step.growth * surface.even(smooth)
        ring = ring_volume(*surface.outside(base), *surface.outside(grown))
        growth = step.growth * surface.even(smooth)
        faces = np.zeros(2)
        middle = surface.outside(base + 0.5 * growth)[1]
        for n, end in enumerate((0, -1)):
            thick = surface.liner[end] + base + 0.5 * growth[end]
            faces[n] = np.pi * (surface.r[end] + middle[end]) * thick * growth[end]
        whole = ring + faces.sum() + 0.01 * step.growth
        assert step.mass == pytest.approx(DENSITY * whole, rel=CONES)
    assert sum(step.mass for step in layer.steps) == pytest.approx(layer.mass, rel=SUMS)
    x, r = surface.outside(0.2e-3)
    kept = ring_volume(x, r, *surface.outside(0.2e-3 + finished))
    assert layer.mass_left == pytest.approx(DENSITY * kept, rel=CONES)

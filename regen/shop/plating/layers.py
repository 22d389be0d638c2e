"""One plated layer: mean deposit that the thinnest place needs, cycles, current, hours, metal."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from regen.result import Array
from regen.shop.plating.baths import MetalName
from regen.shop.plating.check import note
from regen.shop.plating.faraday import metal
from regen.shop.plating.surface import Surface
from regen.shop.plating.values import LayerSpec, PlanError, Turning

MOST_CYCLES = 200
"""Beyond, each turning takes nearly all that grew since the one before."""


@dataclass(frozen=True, slots=True)
class Step:
    """One cycle of plating and the turning that ends it, SI.

    ``least_from``, ``least_plated``, ``least_to`` are the layer's thickness at the thinnest place
    before plating, after it and after turning; ``most_plated`` at the thickest after plating.
    ``area_from``, ``area``, ``area_to`` are in the bath at the start, in the middle and at the
    end. ``theory_time`` is by Faraday's law, ``time`` by the measured rate where there is one.
    """

    number: int
    layer: MetalName
    growth: float
    least_from: float
    least_plated: float
    most_plated: float
    least_to: float
    area_from: float
    area: float
    area_to: float
    time: float
    theory_time: float
    charge: float
    mass: float

    @property
    def current_density(self) -> float:
        """Mean over the time in the bath [A/m2]: by a measured rate less than the setting."""
        return self.charge / (self.time * self.area)

    @property
    def current_from(self) -> float:
        """Current at the start [A]."""
        return self.current_density * self.area_from

    @property
    def current_to(self) -> float:
        """Current at the end [A]."""
        return self.current_density * self.area_to


@dataclass(frozen=True, slots=True, eq=False)
class Layer:
    """A plated layer, SI; arrays (S,) along x.

    ``ratio`` is local over mean thickness, ``thinnest`` the station of its least. ``deposit`` is
    the mean thickness plated in all, ``deposit_needed`` what the thinnest place needs,
    ``even_deposit`` what an even deposit would need. ``as_plated`` is the thickness before the
    last turning, ``left`` after it; ``mass_left`` is the metal that stays on the outside. ``time``,
    ``theory_time``, ``charge`` and ``mass`` are the sums of the steps.
    """

    spec: LayerSpec
    ratio: Array
    thinnest: int
    deposit: float
    deposit_needed: float
    even_deposit: float
    as_plated: Array
    left: Array
    steps: tuple[Step, ...]
    time: float
    theory_time: float
    charge: float
    mass: float
    mass_left: float

    @property
    def metal(self) -> MetalName:
        """What is plated."""
        return self.spec.bath.metal

    @property
    def growth(self) -> float:
        """Growth of the mean thickness by Faraday's law [m/s]."""
        return metal(self.metal).growth(self.spec.current_density, self.spec.efficiency)


def cycles(spec: LayerSpec, turning: Turning, least: float) -> tuple[float, int]:
    """Return the mean deposit [m] that leaves enough where it is ``least`` of it, and the cycles.

    n cycles have n - 1 turnings between: least * deposit = finished + stock + (n - 1) cut; the
    fewest cycles are taken whose growth is at most ``turning.each``. PlanError if each turning
    takes nearly all that grew.
    """
    for n in range(1, MOST_CYCLES + 1):
        deposit = (spec.finished + spec.stock + (n - 1) * turning.cut) / least
        if deposit <= n * turning.each * (1.0 + 1e-12):
            return deposit, n
    sizes = {"cut": turning.cut * 1e3, "grown": least * turning.each * 1e3}
    raise PlanError(note("too many cycles", **sizes, most=MOST_CYCLES), key="plating.turn_cut")


def plate(
    surface: Surface, spec: LayerSpec, ratio: Array, turning: Turning, base: float = 0.0
) -> Layer:
    """Return the plan of one layer on ``base`` [m] of what lies on the liner already.

    ``ratio`` (S,) is local over mean thickness. PlanError if each turning takes nearly all that
    grew.
    """
    needed, n = cycles(spec, turning, float(ratio.min()))
    deposit = needed
    if spec.deposit is not None:
        deposit, n = spec.deposit, max(math.ceil(spec.deposit / turning.each - 1e-9), 1)
    steps = tuple(_steps(surface, spec, ratio, base, deposit / n, n, turning.cut))
    as_plated = steps[-1].least_from + deposit / n * ratio
    left = np.minimum(spec.finished, as_plated)
    summed = ("time", "theory_time", "charge", "mass")
    return Layer(
        spec=spec,
        ratio=ratio,
        thinnest=int(np.argmin(ratio)),
        deposit=deposit,
        deposit_needed=needed,
        even_deposit=cycles(spec, turning, 1.0)[0],
        as_plated=as_plated,
        left=left,
        steps=steps,
        **{name: sum(getattr(step, name) for step in steps) for name in summed},
        mass_left=metal(spec.bath.metal).density * surface.volume(base, left),
    )


def _steps(
    surface: Surface,
    spec: LayerSpec,
    ratio: Array,
    base: float,
    growth: float,
    count: int,
    cut: float,
) -> Iterator[Step]:
    """Yield the cycles: the area grows as the layer does."""
    of, layer = metal(spec.bath.metal), growth * ratio
    thick = 0.0
    for number in range(1, count + 1):
        plated = thick + growth * float(ratio.min())
        left = plated - cut if number < count else min(spec.finished, plated)
        left = max(min(left, plated), 0.0)
        below = base + thick
        volume = surface.volume(below, layer) + surface.extra_area * growth
        volume += float(surface.faces(below + 0.5 * layer) @ layer[[0, -1]])
        mass = of.density * volume
        charge = of.charge(mass, spec.efficiency)
        before, middle, after = (surface.area(below + f * layer) for f in (0.0, 0.5, 1.0))
        theory = charge / (spec.current_density * middle)
        yield Step(
            number=number,
            layer=spec.bath.metal,
            growth=growth,
            least_from=thick,
            least_plated=plated,
            most_plated=thick + growth * float(ratio.max()),
            least_to=left,
            area_from=before,
            area=middle,
            area_to=after,
            time=theory if spec.rate is None else growth / spec.rate,
            theory_time=theory,
            charge=charge,
            mass=mass,
        )
        thick = left

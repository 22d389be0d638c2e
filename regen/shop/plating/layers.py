"""One plated layer: mean deposit that the thinnest place needs, cycles, current, hours, metal."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from regen.result import Array
from regen.shop.plating.baths import Bath
from regen.shop.plating.faraday import metal
from regen.shop.plating.surface import Surface

MOST_CYCLES = 200
"""Beyond, each turning takes nearly all that grew since the one before."""


class PlanError(ValueError):
    """No plan can be made of what was given; ``key`` is the key of the case to look at."""

    def __init__(self, text: str, *, key: str) -> None:
        self.key = key
        super().__init__(text)


@dataclass(frozen=True, slots=True, eq=False)
class Wanted:
    """What is asked of a layer, in SI.

    ``ratio`` (S,) is local over mean thickness; ``finished`` the thickness drawn, ``stock`` what
    stands above it at the thinnest place before the last turning, ``cut`` what each turning
    between takes off there. ``deposit`` fixes the mean thickness plated in all, None for what the
    thinnest place needs; ``rate`` is measured growth [m/s], None for theory. ``base`` is what
    lies on the liner already.
    """

    bath: Bath
    current_density: float
    efficiency: float
    rate: float | None
    ratio: Array
    base: float
    finished: float
    stock: float
    turn_each: float
    cut: float
    deposit: float | None


@dataclass(frozen=True, slots=True)
class Step:
    """One cycle of plating and the turning that ends it, SI.

    ``least_from``, ``least_plated``, ``least_to`` are the layer's thickness at the thinnest place
    before plating, after it and after turning; ``most_plated`` at the thickest after plating.
    ``area_from``, ``area``, ``area_to`` are in the bath at the start, in the middle and at the
    end. ``theory_time`` is by Faraday's law, ``time`` by the measured rate where there is one.
    """

    number: int
    layer: Literal["copper", "nickel"]
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

    ``deposit`` is the mean thickness plated in all, ``as_plated`` the thickness before the last
    turning, ``left`` after it; ``mass`` is all metal deposited and ``mass_left`` what stays on
    the outside. ``theory_time`` is by Faraday's law, ``time`` by the measured rate where there is
    one; ``even_deposit`` the mean thickness that an even deposit would need. ``deposit_needed``
    is what the thinnest place needs, also where the deposit is fixed.
    """

    metal: Literal["copper", "nickel"]
    wanted: Wanted
    deposit: float
    deposit_needed: float
    even_deposit: float
    as_plated: Array
    left: Array
    thinnest: int
    steps: tuple[Step, ...]
    time: float
    theory_time: float
    charge: float
    mass: float
    mass_left: float

    @property
    def growth(self) -> float:
        """Growth of the mean thickness by Faraday's law [m/s]."""
        of = self.wanted
        return metal(self.metal).growth(of.current_density, of.efficiency)

    @property
    def turned(self) -> Array:
        """Thickness that is plated and turned off again (S,) [m]."""
        return np.asarray(self.deposit * self.wanted.ratio - self.left)

    @property
    def turnings_between(self) -> int:
        """Turnings before the last [-]."""
        return len(self.steps) - 1


def cycles(
    finished: float, stock: float, cut: float, least: float, turn_each: float
) -> tuple[float, int]:
    """Return the mean deposit that leaves enough at the thinnest place, and the cycles it takes.

    Parameters
    ----------
    finished, stock : float
        Thickness drawn, and what stands above it before the last turning [m].
    cut : float
        What each turning between takes off at the thinnest place [m].
    least : float
        Thinnest over mean thickness [-].
    turn_each : float
        Greatest mean growth of a cycle [m].

    Returns
    -------
    tuple of float and int
        Mean thickness plated in all [m], and cycles [-].

    Raises
    ------
    PlanError
        If each turning takes nearly all that grew.

    Notes
    -----
    n cycles have n - 1 turnings between: least * deposit = finished + stock + (n - 1) cut, and
    the fewest cycles are taken whose growth is at most ``turn_each``.
    """
    for n in range(1, MOST_CYCLES + 1):
        deposit = (finished + stock + (n - 1) * cut) / least
        if deposit <= n * turn_each * (1.0 + 1e-12):
            return deposit, n
    text = (
        f"each turning takes {cut * 1e3:g} mm off the thinnest place, where only "
        f"{least * turn_each * 1e3:.3g} mm grew since the one before: the layer would take more "
        f"than {MOST_CYCLES} cycles; turn back less often, or take off less"
    )
    raise PlanError(text, key="plating.turn_cut")


@dataclass(frozen=True, slots=True)
class Span:
    """Thickness of a layer in one cycle [m]: thinnest before and after plating, thickest, after."""

    start: float
    plated: float
    most: float
    to: float


def plate(surface: Surface, of: Wanted) -> Layer:
    """Return the plan of one layer.

    Parameters
    ----------
    surface : Surface
        What hangs in the bath.
    of : Wanted
        What is asked.

    Returns
    -------
    Layer
        Deposit, cycles, current, hours, metal.

    Raises
    ------
    PlanError
        If each turning takes nearly all that grew.
    """
    least, most = float(of.ratio.min()), float(of.ratio.max())
    needed, n = cycles(of.finished, of.stock, of.cut, least, of.turn_each)
    deposit = needed
    if of.deposit is not None:
        deposit, n = of.deposit, max(math.ceil(of.deposit / of.turn_each - 1e-9), 1)
    even, _ = cycles(of.finished, of.stock, of.cut, 1.0, of.turn_each)
    growth, thick = deposit / n, 0.0
    steps: list[Step] = []
    for number in range(1, n + 1):
        plated = thick + growth * least
        to = plated - of.cut if number < n else min(of.finished, plated)
        to = max(min(to, plated), 0.0)
        span = Span(thick, plated, thick + growth * most, to)
        steps.append(_step(surface, of, number, growth, span))
        if number < n:
            thick = to
    as_plated = thick + growth * of.ratio
    left = np.minimum(of.finished, as_plated)
    return Layer(
        metal=_name(of.bath),
        wanted=of,
        deposit=deposit,
        deposit_needed=needed,
        even_deposit=even,
        as_plated=as_plated,
        left=left,
        thinnest=int(np.argmin(of.ratio)),
        steps=tuple(steps),
        time=sum(step.time for step in steps),
        theory_time=sum(step.theory_time for step in steps),
        charge=sum(step.charge for step in steps),
        mass=sum(step.mass for step in steps),
        mass_left=metal(of.bath.metal).density * surface.volume(of.base, left),
    )


def _step(surface: Surface, of: Wanted, number: int, growth: float, thick: Span) -> Step:
    """Return one cycle: its area grows as the layer does."""
    base = of.base + thick.start
    layer = growth * of.ratio
    volume = surface.volume(base, layer) + surface.extra_area * growth
    volume += float(surface.faces(base + 0.5 * layer) @ layer[[0, -1]])
    mass = metal(of.bath.metal).density * volume
    charge = metal(of.bath.metal).charge(mass, of.efficiency)
    before, middle, after = (surface.area(base + f * layer) for f in (0.0, 0.5, 1.0))
    theory = charge / (of.current_density * middle)
    return Step(
        number=number,
        layer=_name(of.bath),
        growth=growth,
        least_from=thick.start,
        least_plated=thick.plated,
        most_plated=thick.most,
        least_to=thick.to,
        area_from=before,
        area=middle,
        area_to=after,
        time=theory if of.rate is None else growth / of.rate,
        theory_time=theory,
        charge=charge,
        mass=mass,
    )


def _name(bath: Bath) -> Literal["copper", "nickel"]:
    return "copper" if bath.metal == "copper" else "nickel"

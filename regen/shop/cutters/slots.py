"""One circuit's slots as the shop sees them: sizes along x and stretches of one width."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from regen.checks.shop_rules import FIT as FIT
from regen.checks.shop_rules import SUDDEN
from regen.design import Channels, Design, Profile
from regen.geometry.circuits import Path
from regen.geometry.contour import Contour
from regen.geometry.curves import Array, mm
from regen.texts import text_in

SPACING = 0.1e-3
"""Between the places along x at which a cut slot is given [m], at most."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Part of a slot along x [m] that has one width, or whose width tapers."""

    start: float
    stop: float
    narrowest: float
    widest: float

    @property
    def tapers(self) -> bool:
        """True if no cutter of one width fits all of it."""
        return self.widest - self.narrowest > 2 * FIT


@dataclass(frozen=True)
class Slot:
    """Slots of one circuit, laid along the contour as ``path``.

    ``outer``: whether its injector-side and nozzle-side end are those of the cooled length.
    """

    design: Design
    contour: Contour
    path: Path
    outer: tuple[bool, bool]

    @property
    def key(self) -> str:
        """Where the case gives its slots."""
        return f"circuits.{self.path.name}" if self.design.circuits else "channels"

    @property
    def span(self) -> tuple[float, float]:
        """Where it begins and ends along the contour [m]."""
        return float(self.path.x[0]), float(self.path.x[-1])

    @property
    def open_ends(self) -> tuple[bool, bool]:
        """Whether a cutter may run out through the injector-side and nozzle-side end."""
        allowed, (injector, nozzle) = self.design.shop.run_out, self.outer
        return (
            not injector or allowed in ("both ends", "injector"),
            not nozzle or allowed in ("both ends", "nozzle"),
        )

    @property
    def channels(self) -> Channels:
        """Its sizes as wanted."""
        return self.path.circuit.channels

    @cached_property
    def x(self) -> Array:
        """Places along the contour (F,) [m], the points of its profiles among them."""
        start, stop = self.span
        even = np.linspace(start, stop, int(np.ceil((stop - start) / SPACING)) + 1)
        profiles = (self.channels.width, self.channels.depth, self.design.liner.wall)
        own = [x for profile in profiles for x in profile.x if start < x < stop]
        return np.unique(np.concatenate([even, own]))

    @cached_property
    def r(self) -> Array:
        """Hot-gas radius (F,) [m]."""
        return self.contour.radius(self.x)

    @cached_property
    def slope(self) -> Array:
        """Angle of the contour to the axis (F,) [rad]."""
        return self.contour.slope_angle(self.x)

    @cached_property
    def wall(self) -> Array:
        """Wanted hot wall (F,) [m]."""
        return self.design.liner.wall.at(self.x)

    @cached_property
    def depth(self) -> Array:
        """Wanted depth (F,) [m]."""
        return self.channels.depth.at(self.x)

    @cached_property
    def width(self) -> Array:
        """Wanted width (F,) [m]."""
        return self.channels.width.at(self.x)

    @cached_property
    def stretches(self) -> tuple[Stretch, ...]:
        """Stretches along x, each of one width or tapering."""
        return stretches_of(self.channels.width, self.span)

    def points(self, distance: Array) -> tuple[Array, Array]:
        """Return x and r (F,) at distances (F,) along the normals of its places [m]."""
        return self.x - distance * np.sin(self.slope), self.r + distance * np.cos(self.slope)

    def within(self, start: float, stop: float) -> NDArray[np.bool_]:
        """Return which of its places lie between two positions [m], both included."""
        slack = SPACING * 1e-3
        return np.asarray((self.x >= start - slack) & (self.x <= stop + slack))

    def text(self, name: str, **values: object) -> str:
        """Return a text on these slots, see ``text``."""
        return text(name, key=self.key, **values)


def stretches_of(width: Profile, span: tuple[float, float]) -> tuple[Stretch, ...]:
    """Return the stretches by rising x [m], adjoining, of a width along the ``span`` of a slot.

    A sudden step belongs to its narrower side.
    """
    start, stop = span
    places = np.array([start, *(x for x in width.x if start < x < stop), stop])
    values = width.at(places)
    parts: list[Stretch] = []
    for a, b, one, other in zip(places[:-1], places[1:], values[:-1], values[1:], strict=True):
        low, high = float(min(one, other)), float(max(one, other))
        if high - low > 2 * FIT and b - a <= SUDDEN:
            high = low
        parts.append(Stretch(float(a), float(b), low, high))
    joined = parts[:1]
    for new in parts[1:]:
        last = joined[-1]
        narrowest, widest = min(last.narrowest, new.narrowest), max(last.widest, new.widest)
        both = Stretch(last.start, new.stop, narrowest, widest)
        if (last.tapers and new.tapers) or not both.tapers:
            joined[-1] = both
        else:
            joined.append(new)
    return tuple(joined)


def text(name: str, **values: object) -> str:
    """Return a text of data/cutters.toml, its values filled in."""
    return text_in("cutters.toml", name, **values)


def fine(length: float) -> str:
    """Return a length [m] as text, to the micrometre."""
    return mm(round(length, 6))


def place(x: float) -> str:
    """Return a position along the axis [m] as text, to a tenth of a millimetre."""
    return mm(round(x, 4))

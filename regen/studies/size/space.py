"""The sizes that sizing may change: variables between bounds, and the base they change."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NoReturn

import numpy as np
from numpy.typing import NDArray

from regen.design import Cutter, Design, Profile
from regen.errors import GeometryError, RangeError
from regen.geometry.contour import Contour
from regen.solver.prepare import Prepared, prepare
from regen.sources import read_data
from regen.studies.batch.designs import DesignBatch
from regen.studies.batch.parameters import Parameter, applied, numeric_key, own_profile, own_value

Array = NDArray[np.float64]

SIZES = {
    "count": ("channels.count", 0.5, 2.0),
    "width": ("channels.width", 0.5, 2.0),
    "depth": ("channels.depth", 1.0 / 3.0, 2.0),
    "wall": ("liner.wall", 2.0 / 3.0, 1.5),
    "flow": ("coolant.mass_flow", 0.7, 1.3),
}
"""Key of each, and bounds without those of the case, over its least and greatest value [-]."""

PATHS = {size: path for size, (path, _, _) in SIZES.items()}

PLACE = 1e-4
"""Points of the depth lie on whole multiples of this [m]: a drawing shows no finer."""

COARSE = 32
"""Stations along the slots in a screen: peaks within a kelvin, pressure drop within 0.5 %."""

STEP = 1e-5
"""Sizes are rounded to this [m]: a shop sets no finer."""


@dataclass(frozen=True)
class Variable:
    """One free number: its parameter, which size it is of, and its bounds in SI."""

    parameter: Parameter
    size: str
    low: float
    high: float

    @property
    def step(self) -> float:
        """What values are whole multiples of, as they are written [SI]."""
        if self.size == "count":
            return 1.0
        return STEP if self.size != "flow" else float(10.0 ** np.floor(np.log10(self.low) - 3.0))

    @property
    def whole(self) -> tuple[int, int]:
        """Bounds as whole numbers of steps, within the bounds."""
        low, high = self.low / self.step, self.high / self.step
        return int(np.ceil(low - 1e-9)), int(np.floor(high + 1e-9))

    def rounded(self, value: float) -> float:
        """Return a value as it is written, the nearest within the bounds [SI]."""
        low, high = self.whole
        return float(f"{min(max(round(value / self.step), low), high) * self.step:.12g}")


@dataclass(frozen=True)
class Space:
    """V variables and the base they change; points in it are shares (n, V) of the bounds.

    ``widths`` are those of the shop's cutters, rising [m]; none where any width can be milled.
    """

    base: Design
    variables: tuple[Variable, ...]
    prepared: Prepared
    widths: tuple[float, ...] = ()

    @property
    def bounds(self) -> Array:
        """Lower and upper bounds (2, V) [SI]."""
        return np.array([[v.low for v in self.variables], [v.high for v in self.variables]])

    def values(self, shares: Array) -> Array:
        """Return the values (n, V) [SI] of points (n, V) given as shares of the bounds.

        A share of the count is one of the pitch, in which the lands are linear.
        """
        low, high = self._with_pitch(self.bounds)
        return self._with_pitch(low + shares * (high - low))

    def shares(self, values: Array) -> Array:
        """Return the shares of the bounds (n, V) of values (n, V) [SI], held to the bounds."""
        low, high = self._with_pitch(self.bounds)
        return np.asarray(np.clip((self._with_pitch(values) - low) / (high - low), 0.0, 1.0))

    def _with_pitch(self, values: Array) -> Array:
        """Return values with one over the count in place of the count, or back."""
        turned = np.array(values, dtype=float)
        for n in self.of("count"):
            turned[..., n] = 1.0 / turned[..., n]
        return turned

    def batch(self, shares: Array) -> DesignBatch:
        """Return points (n, V) as a batch; a count may lie between two whole numbers."""
        parameters = tuple(v.parameter for v in self.variables)
        spans = DesignBatch(self.base, parameters, self.bounds).all_spans
        return DesignBatch(self.base, parameters, self.values(shares), spans=spans)

    def design(self, values: Array) -> Design:
        """Return the design at one set of values (V,) [SI], each as it is written."""
        design = self.base
        for variable, value in zip(self.variables, values, strict=True):
            design = applied(design, variable.parameter, variable.rounded(float(value)))
        return design

    def coarse(self) -> Space:
        """Return the space with fewer stations, for a search that is refined afterwards."""
        models = self.base.models
        if models.stations <= COARSE:
            return self
        try:
            base = replace(self.base, models=replace(models, stations=COARSE))
            return replace(self, base=base, prepared=prepare(base))
        except GeometryError:  # more points of the profiles than stations
            return self

    def fixed(self, size: str, value: float) -> Space:
        """Return the space with one size held at a value [SI], without its variables."""
        base = self.base
        for n in self.of(size):
            base = applied(base, self.variables[n].parameter, value)
        free = tuple(v for v in self.variables if v.size != size)
        return replace(self, base=base, variables=free)

    def with_cutter(self, width: float) -> Space:
        """Return the space at the width of a cutter [m], no deeper than it cuts."""
        space, reach = self.fixed("width", width), _reach(self.base.shop.cutters, width)
        highs = ((v, min(v.high, reach) if v.size == "depth" else v.high) for v in space.variables)
        return replace(space, variables=tuple(replace(v, high=high) for v, high in highs))

    def of(self, size: str) -> list[int]:
        """Return the numbers of the variables of one size."""
        return [n for n, variable in enumerate(self.variables) if variable.size == size]

    def own(self) -> Array:
        """Return the base's own values (V,) [SI]."""
        return np.array([_own(self.base, variable.parameter) for variable in self.variables])


def _own(design: Design, parameter: Parameter) -> float:
    profile = own_profile(design, parameter.path)
    if profile is not None and parameter.point is not None:
        return profile.value[parameter.point]
    return float(own_value(design, parameter) or np.nan)


def space_of(design: Design) -> Space:
    """Return the space that a case asks to be searched.

    Its base has the depth on its points; a width that varies has each of its points free, unless
    the shop's cutters are given: a saw cuts one width. Raises ``RangeError`` if the case has
    several circuits, manifolds or changing counts, or its bounds leave no room.
    """
    _check(design)
    sizing, base, prepared = design.sizing, design, prepare(design)
    if "depth" in sizing.free:
        x = depth_places(prepared.contour, prepared.passage.x, sizing.depth_points)
        own = design.channels.depth
        depth = Profile(tuple(map(float, x)), tuple(map(float, own.at(x))))
        base = replace(base, channels=replace(design.channels, depth=depth))
    widths = _cutter_widths(design) if "width" in sizing.free else ()
    if widths:
        mean = float(np.mean(design.channels.width.value))
        near = min(widths, key=lambda width: abs(width - mean))
        base = replace(base, channels=replace(base.channels, width=Profile.constant(near)))
    variables = tuple(v for size in sizing.free for v in _variables(base, design, size, widths))
    if problems := "; ".join(dict.fromkeys(filter(None, map(_no_room, variables)))):
        raise RangeError(problems)
    return Space(base, variables, prepare(base), widths)


def _text(which: str, **places: object) -> str:
    """Return a refusal of data/studies.toml with its places filled in."""
    return str(read_data("studies.toml")["size"]["refused"][which].format(**places))


def refuse(which: str, **places: object) -> NoReturn:
    """Raise ``RangeError`` with a refusal of data/studies.toml."""
    raise RangeError(_text(which, **places))


def _check(design: Design) -> None:
    if design.circuits or design.manifolds is not None:
        what = "circuits" if design.circuits else "ring manifolds"
        refuse("circuits", what=what)
    if "count" in design.sizing.free and design.channels.count_changes:
        refuse("count")


def depth_places(contour: Contour, cooled: Array, count: int) -> Array:
    """Return ``count`` rising places for the depth, whole multiples of ``PLACE`` [m].

    ``cooled`` are the stations along the slots, rising [m]; the throat is a place where it is
    cooled.
    """
    start, stop = float(cooled[0]), float(cooled[-1])
    if count == 1:
        return np.zeros(1)
    if count == 2 or not start < 0.0 < stop:
        x = np.linspace(start, stop, count)
    else:
        ahead = min(max(round((count - 1) * -start / (stop - start)), 1), count - 2)
        before, behind = np.linspace(start, 0.0, ahead + 1), np.linspace(0.0, stop, count - ahead)
        x = np.concatenate([before, behind[1:]])
    return np.asarray(np.round(np.round(x / PLACE) * PLACE, 9))


def _no_room(variable: Variable) -> str:
    """Return what is wrong with bounds that leave nothing to search, "" for nothing."""
    if variable.low < variable.high and variable.whole[0] <= variable.whole[1]:
        return ""
    name = "step" if variable.low < variable.high else "bounds"
    say = variable.parameter.say
    low, high, step = say(variable.low), say(variable.high), say(variable.step)
    return _text(name, size=variable.size, low=low, high=high, step=step)


def _variables(base: Design, case: Design, size: str, widths: tuple[float, ...]) -> list[Variable]:
    parameter = numeric_key(PATHS[size], base)
    if size == "width" and widths:
        # one cutter, one width
        return [Variable(parameter, size, widths[0], widths[-1])] if len(widths) > 1 else []
    low, high = _bounds(case, size)
    if size == "depth" and case.shop.cutters:
        cutters = case.shop.cutters
        high = min(high, max(_reach(cutters, w) for w in widths or {c.width for c in cutters}))
    profile = own_profile(base, parameter.path)
    if profile is None or len(profile.x) == 1:
        return [Variable(parameter, size, low, high)]
    points = range(len(profile.x))
    return [Variable(replace(parameter, point=n), size, low, high) for n in points]


def _bounds(case: Design, size: str) -> tuple[float, float]:
    """Return the bounds of a size along x [SI]: the case's, or usual ones."""
    parameter, sizing = numeric_key(PATHS[size], case), case.sizing
    by_fuel = parameter.form == "share of the fuel"
    low, high = getattr(sizing, f"{size}_from"), getattr(sizing, f"{size}_to")
    given = low is not None or high is not None
    if size == "flow" and given and sizing.flow_by_fuel != by_fuel:
        refuse("flow")
    profile = own_profile(case, parameter.path)
    own = (_own(case, parameter),) if profile is None else profile.value
    _, lowest, highest = SIZES[size]
    least, most = lowest * min(own), highest * max(own)
    if size == "count":
        least, most = max(4.0, np.ceil(least)), np.floor(most)
    if by_fuel:
        most = min(most, 1.0)
    return float(low or least), float(high or most)


def _reach(cutters: tuple[Cutter, ...], width: float) -> float:
    """Return how deep the cutters of one width cut [m]."""
    return max((c.depth or np.inf for c in cutters if c.width == width), default=np.inf)


def _cutter_widths(case: Design) -> tuple[float, ...]:
    """Return the widths that the shop's cutters can make, rising [m]; none without cutters.

    A cutter is left out that does not reach the least depth that is asked for.
    """
    cutters = case.shop.cutters
    if not cutters:
        return ()
    low, high = _bounds(case, "width")
    by_search = "depth" in case.sizing.free
    least = _bounds(case, "depth")[0] if by_search else max(case.channels.depth.value)
    between = f"between {low * 1e3:.4g} and {high * 1e3:.4g} mm wide"
    wide = {c.width for c in cutters if low * (1 - 1e-9) <= c.width <= high * (1 + 1e-9)}
    if not wide:
        refuse("width", between=between)
    more = STEP if by_search else 0.0  # room to search
    deep = sorted(width for width in wide if _reach(cutters, width) > least + more - 1e-9)
    if not deep:
        if by_search:
            how, key = "deeper than", "sizing.depth_from"
        else:
            how, key = "as deep as", PATHS["depth"]
        refuse("depth", between=between, how=how, least=least * 1e3, key=key)
    return tuple(deep)

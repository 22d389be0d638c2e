"""What [plating] gives, and what is taken from the bath where it gives nothing."""

from __future__ import annotations

from dataclasses import dataclass

from regen import design as d
from regen.design import Design
from regen.metals.alloys import Fact
from regen.shop.plating.baths import Bath, bath, facts
from regen.shop.plating.layers import PlanError

COPPER_BATH = "acid-copper"
GIVEN = "given_in_case"


@dataclass(frozen=True, slots=True)
class Taken:
    """A value that the case leaves out: what was taken [SI], and where from."""

    key: str
    text: str
    value: float
    unit: str
    source: str
    """Key in data/sources.toml."""
    mark: str


@dataclass(frozen=True, slots=True)
class InBath:
    """One metal in its bath, SI: what is given, or taken.

    ``profile`` None is the usual shape along x with ``end_ratio``; ``stress`` None is not known.
    """

    bath: Bath
    finished: float
    current_density: float
    efficiency: float
    rate: float | None
    profile: d.Profile | None
    end_ratio: float
    stock: float
    deposit: float | None
    temperature: float
    stress: float | None
    stress_source: str


@dataclass(frozen=True, slots=True)
class Values:
    """All that a plan rests on, SI; ``taken`` is what the case leaves out."""

    copper: InBath | None
    nickel: InBath
    turn_each: float
    turn_cut: float
    turn_tolerance: float
    turn_time: float
    taken: tuple[Taken, ...]

    @property
    def metals(self) -> tuple[InBath, ...]:
        """Metals in the order in which they are plated."""
        return (self.nickel,) if self.copper is None else (self.copper, self.nickel)


class _Reader:
    """Reads keys, and keeps a list of what was taken for those left out."""

    def __init__(self, given: d.Plating) -> None:
        self.given = given
        self.taken: list[Taken] = []

    def take(self, key: str, text: str, fact: Fact) -> float:
        """Note a value that is taken for a key, and return it."""
        one = Taken(f"plating.{key}", text, fact.value, fact.unit, fact.source, fact.mark)
        self.taken.append(one)
        return fact.value

    def of(self, key: str, text: str, usual: Fact) -> float:
        """Return a key's value, or the usual one."""
        value = getattr(self.given, key)
        return self.take(key, text, usual) if value is None else float(value)


def values_of(design: Design) -> Values:
    """Return all values of a plan.

    Parameters
    ----------
    design : Design
        With an electroformed jacket.

    Returns
    -------
    Values
        In SI.

    Raises
    ------
    PlanError
        If the jacket is not electroformed, or its bath is not known.
    """
    _check_route(design)
    reader, shop = _Reader(design.plating), facts("shop")
    closeout = design.closeout
    copper = None
    if closeout.copper > 0.0:
        copper = _in_bath(reader, bath(COPPER_BATH), closeout.copper)
    nickel = _in_bath(reader, nickel_bath(design), closeout.jacket)
    return Values(
        copper=copper,
        nickel=nickel,
        turn_each=reader.of("turn_each", "mean growth between turnings", shop["turn_each"]),
        turn_cut=reader.of("turn_cut", "taken off by each turning between", shop["turn_cut"]),
        turn_tolerance=reader.of(
            "turn_tolerance", "a turned layer may be too thin by", shop["turn_tolerance"]
        ),
        turn_time=reader.of("turn_time", "one turning with handling", shop["turn_time"]),
        taken=tuple(reader.taken),
    )


def _in_bath(reader: _Reader, of: Bath, finished: float) -> InBath:
    name, shop, given = of.metal, facts("shop"), reader.given
    stock = shop[f"{name}_stock"]
    if name == "nickel":
        stock = stock._replace(value=max(stock.value, shop["nickel_stock_share"].value * finished))
    profile: d.Profile | None = getattr(given, f"{name}_profile")
    end = shop["end_ratio"]
    if profile is None:
        reader.take(f"{name}_profile", f"{name} at both ends over the throat's", end)
    density = reader.of(f"{name}_current_density", f"current density, {name}", of.current_density)
    efficiency = reader.of(f"{name}_efficiency", f"cathode efficiency, {name}", of.efficiency)
    stress, source = getattr(given, f"{name}_stress"), GIVEN
    if stress is None and of.stress is not None:
        stress = reader.take(f"{name}_stress", f"stress of the {name} as deposited", of.stress)
        source = of.stress.source
    return InBath(
        bath=of,
        finished=finished,
        current_density=density,
        efficiency=efficiency,
        rate=getattr(given, f"{name}_rate"),
        profile=profile,
        end_ratio=end.value,
        stock=reader.of(f"{name}_stock", f"{name} to turn off at the thinnest place", stock),
        deposit=getattr(given, f"{name}_deposit"),
        temperature=reader.of(
            f"{name}_bath_temperature", f"temperature of the {name} bath", of.temperature
        ),
        stress=stress,
        stress_source=source,
    )


def _check_route(design: Design) -> None:
    route, alloy = design.closeout.route, design.closeout.jacket_alloy
    if route == "electroformed":
        return
    text = (
        f"the jacket is {route} of {alloy}: nothing is plated, so there is no plating plan. "
        'Accepted here: "electroformed"'
    )
    raise PlanError(text, key="closeout.route")


def nickel_bath(design: Design) -> Bath:
    """Return the bath of the nickel: the one named, or that of the jacket's condition.

    Parameters
    ----------
    design : Design
        With an electroformed jacket.

    Returns
    -------
    Bath
        In SI.

    Raises
    ------
    PlanError
        If none is named, and the condition is no bath that is known here.
    """
    named = design.plating.nickel_bath or design.closeout.jacket_condition
    if named not in ("sulfamate", "watts"):
        text = (
            f'it is not given, and closeout.jacket_condition, "{named}", is no bath known here. '
            'Accepted: "sulfamate", "watts". Do: say in which of them the jacket is plated'
        )
        raise PlanError(text, key="plating.nickel_bath")
    return bath(named)

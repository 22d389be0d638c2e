"""Values of the plating plan: what [plating] gives, and what is assumed where it does not."""

from __future__ import annotations

from dataclasses import dataclass, field

from regen.design import Design, Plating, Profile
from regen.metals.alloys import Fact
from regen.shop.plating.baths import Bath, bath, facts

COPPER_BATH = "acid-copper"


class PlanError(ValueError):
    """No plan can be made of what was given; ``key`` is the key of the case to look at."""

    def __init__(self, text: str, *, key: str) -> None:
        self.key = key
        super().__init__(text)


@dataclass(frozen=True, slots=True)
class Assumed:
    """A value that the case leaves out: what was assumed [SI], and on what basis."""

    key: str
    text: str
    value: float
    unit: str
    source: str
    """Key in data/sources.toml."""
    mark: str


@dataclass(frozen=True, slots=True)
class LayerSpec:
    """One metal in its bath, given or assumed, SI.

    ``rate`` is measured growth, None for Faraday's law. ``profile`` None is the usual shape along
    x with ``end_ratio`` at both ends. ``stock`` is what stands above the thickness drawn,
    ``finished``, at the thinnest place before the last turning. ``deposit`` fixes the mean
    thickness plated in all, None for what the thinnest place needs. ``stress`` None is unknown.
    """

    bath: Bath
    finished: float
    current_density: float
    efficiency: float
    rate: float | None
    profile: Profile | None
    end_ratio: float
    stock: float
    deposit: float | None
    temperature: float
    stress: float | None
    stress_source: str


@dataclass(frozen=True, slots=True)
class Values:
    """All that a plan rests on, SI; ``copper`` None for no copper layer."""

    copper: LayerSpec | None
    nickel: LayerSpec
    turn_each: float
    turn_cut: float
    turn_tolerance: float
    turn_time: float
    assumed: tuple[Assumed, ...]

    @property
    def specs(self) -> tuple[LayerSpec, ...]:
        """Layers in the order in which they are plated."""
        return (self.nickel,) if self.copper is None else (self.copper, self.nickel)


@dataclass(frozen=True)
class _Reader:
    """Reads keys, and lists what was assumed for those left out."""

    given: Plating
    assumed: list[Assumed] = field(default_factory=list)

    def assume(self, key: str, text: str, fact: Fact) -> float:
        """List a value that is assumed for a key, and return it."""
        one = Assumed(f"plating.{key}", text, fact.value, fact.unit, fact.source, fact.mark)
        self.assumed.append(one)
        return fact.value

    def value(self, key: str, text: str, usual: Fact) -> float:
        """Return a key's value, or the usual one."""
        value = getattr(self.given, key)
        return self.assume(key, text, usual) if value is None else float(value)


def values_of(design: Design) -> Values:
    """Return all values of the plan of a design.

    Raises
    ------
    PlanError
        If the jacket is not electroformed, or its bath is not known.
    """
    closeout = design.closeout
    if closeout.route != "electroformed":
        text = (
            f"the jacket is {closeout.route} of {closeout.jacket_alloy}: nothing is plated, so "
            'there is no plating plan. Accepted here: "electroformed"'
        )
        raise PlanError(text, key="closeout.route")
    reader, shop = _Reader(design.plating), facts("shop")
    copper = None
    if closeout.copper > 0.0:
        copper = _spec(reader, bath(COPPER_BATH), closeout.copper)
    nickel = _spec(reader, _nickel_bath(design), closeout.jacket)
    turning = {
        key: reader.value(key, text, shop[key])
        for key, text in (
            ("turn_each", "mean growth between turnings"),
            ("turn_cut", "taken off by each turning between"),
            ("turn_tolerance", "a turned layer may be too thin by"),
            ("turn_time", "one turning with handling"),
        )
    }
    return Values(copper, nickel, assumed=tuple(reader.assumed), **turning)


def _spec(reader: _Reader, of: Bath, finished: float) -> LayerSpec:
    name, shop, given = of.metal, facts("shop"), reader.given
    stock = shop[f"{name}_stock"]
    if name == "nickel":
        stock = stock._replace(value=max(stock.value, shop["nickel_stock_share"].value * finished))
    profile: Profile | None = getattr(given, f"{name}_profile")
    end = shop["end_ratio"]
    if profile is None:
        reader.assume(f"{name}_profile", f"{name} at both ends over the throat's", end)
    density = reader.value(f"{name}_current_density", f"{name} current density", of.current_density)
    efficiency = reader.value(f"{name}_efficiency", f"{name} cathode efficiency", of.efficiency)
    stress, source = getattr(given, f"{name}_stress"), "given_in_case"
    if stress is None and of.stress is not None:
        stress = reader.assume(f"{name}_stress", f"{name} stress as deposited", of.stress)
        source = of.stress.source
    return LayerSpec(
        bath=of,
        finished=finished,
        current_density=density,
        efficiency=efficiency,
        rate=getattr(given, f"{name}_rate"),
        profile=profile,
        end_ratio=end.value,
        stock=reader.value(f"{name}_stock", f"{name} to turn off at the thinnest place", stock),
        deposit=getattr(given, f"{name}_deposit"),
        temperature=reader.value(
            f"{name}_bath_temperature", f"{name} bath temperature", of.temperature
        ),
        stress=stress,
        stress_source=source,
    )


def _nickel_bath(design: Design) -> Bath:
    """Return the bath named, or that of the jacket's condition."""
    named = design.plating.nickel_bath or design.closeout.jacket_condition
    if named not in ("sulfamate", "watts"):
        text = (
            f'not given, and closeout.jacket_condition, "{named}", is no bath known here. '
            'Accepted: "sulfamate", "watts". Do: say in which of them the jacket is plated'
        )
        raise PlanError(text, key="plating.nickel_bath")
    return bath(named)

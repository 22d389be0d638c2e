"""Values of the plating plan: what [plating] gives, and what is assumed where it does not."""

from dataclasses import dataclass
from typing import Any

from regen.design import Design, Plating, Profile
from regen.metals.alloys import Fact
from regen.shop.plating.baths import Bath, bath, facts
from regen.shop.plating.check import note

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
    x. ``stock`` is what stands above the thickness drawn, ``finished``, at the thinnest place
    before the last turning. ``deposit`` fixes the mean thickness plated in all, None for what the
    thinnest place needs. ``stress`` None is unknown.
    """

    bath: Bath
    finished: float
    current_density: float
    efficiency: float
    rate: float | None
    profile: Profile | None
    stock: float
    deposit: float | None
    temperature: float
    stress: float | None
    stress_source: str


@dataclass(frozen=True, slots=True)
class Turning:
    """When a layer is turned back: mean growth of a cycle at most, and the cut each time [m].

    The cut is what each turning but the last takes off the thinnest place. A turned layer may be
    too thin by ``tolerance`` [m]; one turning takes ``time`` with handling [s].
    """

    each: float
    cut: float
    tolerance: float
    time: float


@dataclass(frozen=True, slots=True)
class Values:
    """All that a plan rests on, SI; ``specs`` of the layers in plating order, nickel last."""

    specs: tuple[LayerSpec, ...]
    turning: Turning
    assumed: tuple[Assumed, ...]


class _Reader:
    """Reads keys, and lists what was assumed for those left out."""

    def __init__(self, given: Plating) -> None:
        self.given = given
        self.assumed: list[Assumed] = []

    def value(self, key: str, text: str, usual: Fact) -> float:
        """Return a key's value, or the usual one."""
        value = getattr(self.given, key)
        if value is None:
            self.assumed.append(Assumed(f"plating.{key}", text, *usual))
        return usual.value if value is None else value


def values_of(design: Design) -> Values:
    """Return all values of the plan of a design.

    Raises
    ------
    PlanError
        If the jacket is not electroformed, or its bath is not known.
    """
    closeout = design.closeout
    if closeout.route != "electroformed":
        raise PlanError(note("not plated", closeout=closeout), key="closeout.route")
    reader, shop = _Reader(design.plating), facts("shop")
    layers = [(bath(COPPER_BATH), closeout.copper)] if closeout.copper > 0.0 else []
    layers.append((_nickel_bath(design), closeout.jacket))
    specs = tuple(_spec(reader, of, finished) for of, finished in layers)
    keys = ("turn_each", "turn_cut", "turn_tolerance", "turn_time")
    turning = Turning(*(reader.value(key, note(key), shop[key]) for key in keys))
    return Values(specs, turning, tuple(reader.assumed))


def _spec(reader: _Reader, of: Bath, finished: float) -> LayerSpec:
    name, shop = of.metal, facts("shop")
    stock = shop[f"{name}_stock"]
    if name == "nickel":
        stock = stock._replace(value=max(stock.value, shop["nickel_stock_share"].value * finished))

    def given(key: str) -> Any:
        return getattr(reader.given, f"{name}_{key}")

    def value(key: str, usual: Fact) -> Any:
        return reader.value(f"{name}_{key}", f"{name} {note(key)}", usual)

    value("profile", shop["end_ratio"])
    density = value("current_density", of.current_density)
    efficiency = value("efficiency", of.efficiency)
    stress, source = given("stress"), "given_in_case"
    if stress is None and of.stress is not None:
        stress, source = value("stress", of.stress), of.stress.source
    return LayerSpec(
        bath=of,
        finished=finished,
        current_density=density,
        efficiency=efficiency,
        stock=value("stock", stock),
        temperature=value("bath_temperature", of.temperature),
        stress=stress,
        stress_source=source,
        **{key: given(key) for key in ("rate", "profile", "deposit")},
    )


def _nickel_bath(design: Design) -> Bath:
    """Return the bath named, or that of the jacket's condition."""
    named = design.plating.nickel_bath or design.closeout.jacket_condition
    if named not in ("sulfamate", "watts"):
        raise PlanError(note("no bath", named=named), key="plating.nickel_bath")
    return bath(named)

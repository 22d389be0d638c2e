"""What is known of the routes to a closed liner: starting points, sizes they make, facts."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any, Literal

import numpy as np

from regen.design import Closeout, Design
from regen.errors import MissingProperty, RangeError
from regen.geometry.channels import Passage
from regen.geometry.curves import mm
from regen.metals import heating
from regen.metals import selection as metals
from regen.sources import DATA, MARKS

FILE = DATA / "routes.toml"

ROOM = 293.15
"""Where a bond is pulled [K]."""

TUBES = (
    "brazed tubes are not solved: a tube wall has no lands, its section changes along x as it is "
    "drawn and flattened, and it is bent both ways. They would need the tube's own section along "
    "x, its wall after forming, the flow of a bundle of crowned tubes, the strength of the tube "
    "after the braze, and the fillets between tubes that the gas sees"
)


@dataclass(frozen=True, slots=True)
class Feature:
    """A size that a route makes: ``least`` or ``most`` [m, aspect -], sure from ``safe`` on [m]."""

    size: Literal["width", "land", "wall", "aspect"]
    text: str
    source: str
    mark: str
    least: float | None = None
    safe: float | None = None
    most: float | None = None


@dataclass(frozen=True, slots=True)
class RouteFact:
    """Something known of a route, with its source and mark; ``value`` [SI] where it is a number."""

    text: str
    source: str
    mark: str
    name: str = ""
    value: float | None = None
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Hours:
    """Hours of a route's own step, from ``low`` to ``high`` [h]."""

    low: float
    high: float
    text: str
    source: str
    mark: str


@dataclass(frozen=True, slots=True)
class RouteData:
    """One route: what it is, the keys it starts from, and what is known of it.

    ``caution`` is said with every starting point of it.
    """

    about: str
    values: Mapping[str, Any]
    features: tuple[Feature, ...]
    facts: tuple[RouteFact, ...]
    hours: Hours | None
    caution: str = ""


@cache
def routes() -> Mapping[str, RouteData]:
    """Return every route by name, in the order of ``data/routes.toml``."""
    with FILE.open("rb") as file:
        entries = tomllib.load(file)
    return MappingProxyType({name: _route(entry) for name, entry in entries.items()})


def _route(entry: Mapping[str, Any]) -> RouteData:
    return RouteData(
        about=entry["about"],
        values=MappingProxyType(dict(entry["values"])),
        features=tuple(Feature(**feature) for feature in entry["features"]),
        facts=tuple(RouteFact(**fact) for fact in entry["facts"]),
        hours=Hours(**entry["hours"]) if "hours" in entry else None,
        caution=entry.get("caution", ""),
    )


def starting_values(design: Design, route: str) -> dict[str, Any]:
    """Return the keys that a route starts from for a design.

    Parameters
    ----------
    design : Design
        Names the liner's alloy.
    route : str
        Name of the route [-].

    Returns
    -------
    dict
        Values by key path. Where the liner's condition does not cover the route's heatings and
        another one is the state after just these, that one is named.
    """
    values = dict(routes()[route].values)
    own = metals.liner(design)
    process = [heating.read(text) for text in values.get("liner.process", ())]
    if "liner.alloy" in values or not metals.uncovered(own.alloy, own.condition, process):
        return values
    after = metals.condition_after(own.alloy, process)
    return values | {"liner.condition": after} if after else values


def beyond(route: str, passage: Passage) -> list[str]:
    """Return which sizes of slots a route does not make, or not surely, in words.

    Parameters
    ----------
    route : str
        Name of the route [-].
    passage : Passage
        The slots.

    Returns
    -------
    list of str
        Each with the place, what is made, and how that is known.
    """
    sizes = {
        "width": passage.width,
        "land": passage.land,
        "wall": passage.wall,
        "aspect": passage.depth / passage.width,
    }
    said = []
    for feature in routes()[route].features:
        values = sizes[feature.size]
        mark = MARKS[feature.mark]
        if feature.most is not None:
            at = int(np.argmax(values))
            if values[at] > feature.most:
                what = f"{feature.size} of {values[at]:.2g} at x = {mm(passage.x[at])}"
                said.append(f"{what}: more than the {feature.most:g} of {feature.text} ({mark})")
            continue
        at, least = int(np.argmin(values)), feature.least or 0.0
        sure = feature.safe or least
        if values[at] >= sure:
            continue
        what = f"{feature.size} of {mm(values[at])} at x = {mm(passage.x[at])}"
        span = mm(least) if sure == least else f"{least * 1e3:g} to {mm(sure)}"
        short = "below" if values[at] < least else "at the lower end of"
        said.append(f"{what}: {short} the {span} of {feature.text} ({mark})")
    return said


def breaks_in(uts: float, bond: float) -> Literal["copper", "bond"]:
    """Return where a joint in tension breaks: in the weaker of copper and bond [Pa]."""
    return "copper" if uts < bond else "bond"


def bond_words(route: str, design: Design) -> str:
    """Return where a land pulled off its jacket breaks, in words.

    Parameters
    ----------
    route : str
        Name of the route [-].
    design : Design
        Says the liner, its heatings and the bond's strength.

    Returns
    -------
    str
        Not known where the liner's tensile strength is not.
    """
    if route == "printed":
        return "no bond: lands and roof are one piece"
    bond = design.closeout.bond_strength
    usual = " (common practice, no coupon)" if bond == Closeout().bond_strength else ""
    said = f"bond {bond / 1e6:.0f} MPa{usual}"
    try:
        uts = float(metals.liner(design).value("uts", ROOM).value)
    except (MissingProperty, RangeError):
        return f"{said}; tensile strength of the liner not known: where it breaks is not assessed"
    return f"{said}, liner {uts / 1e6:.0f} MPa: breaks in the {breaks_in(uts, bond)}"

"""What is known of the processes that close a liner: starting points, sizes they make, facts."""

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

FILE = DATA / "processes.toml"

ROOM = 293.15
"""Temperature at which a bond is pulled [K]."""

TUBES = (
    "brazed tubes are not solved: a tube wall has no lands, its section changes along x as it is "
    "drawn and flattened, and it is bent both ways. They would need the tube's own section along "
    "x, its wall after forming, the flow of a bundle of crowned tubes, the strength of the tube "
    "after the braze, and the fillets between tubes that the gas sees"
)


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of a process, with its source and mark."""

    text: str
    source: str
    mark: str

    @property
    def marked(self) -> str:
        """Its text with how it is known, if it is not seen in its source."""
        return f"{self.text} ({MARKS[self.mark]})" if MARKS[self.mark] else self.text


@dataclass(frozen=True, slots=True)
class Feature(Known):
    """A size that a process makes: ``least`` or ``most`` [m, aspect -], safe from ``safe`` [m]."""

    size: Literal["width", "land", "wall", "aspect"]
    least: float = 0.0
    safe: float | None = None
    most: float | None = None


@dataclass(frozen=True, slots=True)
class Fact(Known):
    """A fact of a process; ``value`` [SI] where it is a number."""

    name: str = ""
    value: float | None = None
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Hours(Known):
    """Hours of a process's own step, from ``low`` to ``high`` [h]."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Process:
    """What a process is, the keys it starts from, and what is known of it.

    ``caution`` is printed with every starting point of it.
    """

    about: str
    values: Mapping[str, Any]
    features: tuple[Feature, ...]
    facts: tuple[Fact, ...]
    hours: Hours | None
    caution: str = ""

    @property
    def sources(self) -> set[str]:
        """Keys of all sources."""
        hours = (self.hours,) if self.hours else ()
        return {known.source for known in (*self.features, *self.facts, *hours)}


@cache
def processes() -> Mapping[str, Process]:
    """Return every process by its name, the route of a case, in the order of the file."""
    entries = tomllib.loads(FILE.read_text(encoding="utf-8"))
    for entry in entries.values():
        entry["features"] = tuple(Feature(**feature) for feature in entry["features"])
        entry["facts"] = tuple(Fact(**fact) for fact in entry["facts"])
        entry["hours"] = Hours(**entry["hours"]) if "hours" in entry else None
    return MappingProxyType({name: Process(**entry) for name, entry in entries.items()})


def starting_values(design: Design, process: str) -> dict[str, Any]:
    """Return the values by key path that a process starts from for a design.

    Where the liner's condition does not cover the heatings of the process and another one is the
    state after just these, that one is named.
    """
    values = dict(processes()[process].values)
    own = metals.liner(design)
    heatings = [heating.read(text) for text in values.get("liner.process", ())]
    if "liner.alloy" in values or not metals.uncovered(own.alloy, own.condition, heatings):
        return values
    after = metals.condition_after(own.alloy, heatings)
    return values | {"liner.condition": after} if after else values


def out_of_reach(process: str, passage: Passage) -> list[str]:
    """Return which sizes of slots a process does not make, or not surely, and where."""
    sizes = {
        "width": passage.width,
        "land": passage.land,
        "wall": passage.wall,
        "aspect": passage.depth / passage.width,
    }
    texts = []
    for feature in processes()[process].features:
        values = sizes[feature.size]
        at = int(np.argmin(values) if feature.most is None else np.argmax(values))
        value, known = values[at], feature.marked
        place = f"at x = {mm(passage.x[at])}"
        if feature.most is not None:
            if value > feature.most:
                what = f"{feature.size} of {value:.2g} {place}"
                texts.append(f"{what}: more than the {feature.most:g} of {known}")
            continue
        safe = feature.safe or feature.least
        if value < safe:
            span = mm(safe) if safe == feature.least else f"{feature.least * 1e3:g} to {mm(safe)}"
            short = "below" if value < feature.least else "at the lower end of"
            texts.append(f"{feature.size} of {mm(value)} {place}: {short} the {span} of {known}")
    return texts


def breaks_in(uts: float, bond: float) -> Literal["copper", "bond"]:
    """Return where a joint in tension breaks: in the weaker of copper and bond [Pa]."""
    return "copper" if uts < bond else "bond"


def bond_text(process: str, design: Design) -> str:
    """Return where a land pulled off its jacket breaks, if the liner's strength is known."""
    if process == "printed":
        return "no bond: lands and roof are one piece"
    bond = design.closeout.bond_strength
    usual = " (common practice, no coupon)" if bond == Closeout().bond_strength else ""
    text = f"bond {bond / 1e6:.0f} MPa{usual}"
    try:
        uts = float(metals.liner(design).value("uts", ROOM).value)
    except (MissingProperty, RangeError):
        return f"{text}; tensile strength of the liner not known: where it breaks is not assessed"
    return f"{text}, liner {uts / 1e6:.0f} MPa: breaks in the {breaks_in(uts, bond)}"

"""The box that random designs are drawn from, as data, and the draw.

Every value has a random generator of its own, made of the seed, the number of the draw and the
value's name: a row added to the box leaves the draws of the others as they are.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import numpy as np

from regen.design import (
    Chamber,
    Channels,
    Closeout,
    ContourShape,
    Coolant,
    Design,
    Liner,
    Models,
    Profile,
    Propellants,
)

SEED = 4009
WANTED = 200
"""Designs that must solve; a draw that does not is counted and replaced by the next."""

STATIONS = 61


@dataclass(frozen=True, slots=True)
class Range:
    """A value drawn evenly between two ends, or evenly in its logarithm; ``per`` to SI."""

    low: float
    high: float
    unit: str
    text: str
    per: float = 1.0
    log: bool = False


RANGES: dict[str, Range] = {
    "richness": Range(0.55, 0.95, "-", "mixture ratio over the stoichiometric one"),
    "pressure": Range(8.0, 100.0, "bar", "chamber pressure, at the injector", 1e5, log=True),
    "efficiency": Range(0.88, 1.0, "-", "combustion efficiency on characteristic velocity"),
    "throat": Range(20.0, 150.0, "mm", "throat diameter", 1e-3, log=True),
    "contraction": Range(2.5, 7.0, "-", "area of the barrel over area of the throat"),
    "length": Range(0.6, 1.3, "m", "characteristic length"),
    "expansion": Range(1.5, 6.0, "-", "area ratio of the nozzle's end, where the slots end too"),
    "wall": Range(0.5, 1.2, "mm", "hot wall", 1e-3),
    "width": Range(0.6, 1.6, "mm", "slot width from half a throat radius ahead of the throat to "
                   "half of one behind it", 1e-3),
    "land": Range(0.6, 1.6, "-", "land over slot width at the throat; the count follows"),
    "depth": Range(0.8, 5.0, "-", "slot depth over slot width at the throat"),
    "width_far": Range(1.0, 1.35, "-", "slot width over that at the throat, from two throat radii "
                       "off on"),
    "depth_far": Range(0.7, 1.3, "-", "slot depth over that at the throat, the same"),
    "roughness": Range(0.5, 10.0, "um", "sand grain", 1e-6, log=True),
    "share": Range(0.5, 0.85, "-", "share of the fuel that cools and burns, where it does; the "
                   "slots are as deep as their mass flux asks"),
    "nickel": Range(1.0, 4.0, "mm", "nickel jacket on 0.2 mm of copper", 1e-3),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Feed:
    """What is drawn for one coolant: mass flux at the throat, feed pressure and temperature."""

    flux: tuple[float, float]
    """[kg/(m2 s)], evenly in its logarithm."""
    pressure: tuple[float, float]
    """[bar], evenly in its logarithm."""
    temperature: tuple[float, float]
    """[K]."""
    forms: tuple[str, ...]
    """Coolant-side forms drawn in half of the cases; the other half has the default."""
    dense_forms: tuple[str, ...] = ()
    """More of them, drawn only above ``DENSE`` times the critical pressure."""


LIQUID = ("gnielinski", "sieder_tate", "dittus_boelter", "petukhov_kirillov_popov")
DENSE_FORMS = (
    *("krasnoshchekov_protopopov", "jackson", "petukhov1983"),
    *("bishop", "mokry", "swenson"),
)
FEEDS: dict[str, Feed] = {
    "hydrogen": Feed(
        (2e3, 14e3),
        (40.0, 250.0),
        (30.0, 150.0),
        ("taylor", "mccarthy_wolf", "hess_kunz", "miller"),
    ),
    "methane": Feed((6e3, 40e3), (25.0, 250.0), (110.0, 170.0), LIQUID, DENSE_FORMS),
    "oxygen": Feed(
        (8e3, 60e3),
        (30.0, 250.0),
        (90.0, 130.0),
        LIQUID,
        (*DENSE_FORMS, "spencer_rousar"),
    ),
    "ethanol": Feed((5e3, 40e3), (20.0, 120.0), (280.0, 340.0), LIQUID, DENSE_FORMS),
    "propane": Feed((6e3, 40e3), (20.0, 150.0), (200.0, 290.0), LIQUID, DENSE_FORMS),
    "n-dodecane": Feed(
        (8e3, 50e3),
        (12.0, 150.0),
        (290.0, 380.0),
        (*LIQUID, "hines_wolf", "utrc_kerosene", "nasa_kerosene", "textbook_kerosene"),
    ),
    "water": Feed((4e3, 40e3), (10.0, 150.0), (285.0, 340.0), LIQUID),
}
DENSE = 1.1
"""Inlet over critical pressure from which forms for dense fluids are drawn [-]."""

P_CRITICAL = {
    "hydrogen": 12.86,
    "methane": 45.99,
    "oxygen": 50.43,
    "ethanol": 62.68,
    "propane": 42.51,
    "n-dodecane": 18.17,
    "water": 220.64,
}
"""[bar], rounded: they only part the box."""

STOICHIOMETRIC = {
    "oxygen": {"hydrogen": 7.94, "methane": 3.99, "ethanol": 2.08, "propane": 3.63, "RP-1": 3.41},
    "hydrogen-peroxide": {
        "hydrogen": 16.9,
        "methane": 8.48,
        "ethanol": 4.43,
        "propane": 7.71,
        "RP-1": 7.25,
    },
    "nitrous-oxide": {
        "hydrogen": 21.8,
        "methane": 11.0,
        "ethanol": 5.73,
        "propane": 9.98,
        "RP-1": 9.38,
    },
}
"""Mass of oxidizer over mass of fuel that burns to H2O and CO2, by hand from molar masses."""

ALLOYS = {
    "Cu-OFHC": ("annealed", 1356.0),
    "Cu-Zr": ("soft", 1303.0),
    "Cu-Cr-Zr": ("solution-annealed-aged", 1348.0),
    "Cu-Ag-Zr": ("solution-annealed-aged", 1200.0),
    "Cu-Cr-Nb-8-4": ("as-received", 1353.0),
    "N06625": ("annealed", 1560.0),
    "6061-T6": ("10000-h-exposure", 855.0),
}
"""Condition, and temperature that the hot wall must stay below to count as a design [K]: about
where the alloy begins to melt."""

C_STAR, C_STAR_HYDROGEN = 1700.0, 2200.0
"""Characteristic velocity about, to size slots for a share of the fuel [m/s]."""

LEAST_DEPTH, MOST_DEPTH = 0.5, 8.0
"""Depth over width between which slots are cut for a share of the fuel [-]."""

COPPERS = tuple(name for name in ALLOYS if name.startswith("Cu"))

CHOICES: dict[str, tuple[object, ...]] = {
    "oxidizer": tuple(STOICHIOMETRIC),
    "fuel": tuple(STOICHIOMETRIC["oxygen"]),
    "alloy": (*COPPERS, *COPPERS, "N06625", "6061-T6"),
    "enters_at": ("nozzle", "injector"),
    "expansion model": ("shifting", "frozen", "frozen at throat"),
    "gas_side": (
        "bartz",
        "bartz_enthalpy",
        "pipe_film",
        "reference_enthalpy",
        "integral_layer",
    ),
    "default form": (True, False),
    "curvature": ("reductions", "both ways", "off"),
    "entrance": (False, True),
    "rough_gain": (False, True),
    "radiation": ("off", "barrel", "everywhere"),
    "returns": (True, False),
}

FUEL_OF = {"n-dodecane": "RP-1"}
"""Fuel whose coolant has another name."""


class Draw:
    """Values of one draw, by name."""

    def __init__(self, index: int) -> None:
        self.index = index

    def even(self, name: str) -> float:
        """Return a number evenly between 0 and 1 that belongs to a name."""
        key = zlib.crc32(name.encode())
        return float(np.random.default_rng([SEED, self.index, key]).random())

    def between(self, name: str, low: float, high: float, *, log: bool = False) -> float:
        """Return a value between two ends."""
        share = self.even(name)
        return low * (high / low) ** share if log else low + share * (high - low)

    def __getitem__(self, name: str) -> float:
        """Return a value of the box in SI."""
        row = RANGES[name]
        return self.between(name, row.low, row.high, log=row.log) * row.per

    def one_of(self, name: str, choices: tuple[object, ...] | None = None) -> str:
        """Return one of several names."""
        known = choices or CHOICES[name]
        return known[int(self.even(name) * len(known))]  # type: ignore[return-value]


def _propellants(draw: Draw, coolant: str) -> Propellants:
    """Return a pair that holds the coolant, if it is a propellant."""
    oxidizer, fuel = draw.one_of("oxidizer"), draw.one_of("fuel")
    if coolant == "oxygen":
        oxidizer = "oxygen"
    elif coolant != "water":
        fuel = FUEL_OF.get(coolant, coolant)
    ratio = draw["richness"] * STOICHIOMETRIC[oxidizer][fuel]
    return Propellants(oxidizer, fuel, ratio)  # type: ignore[arg-type]


def _fuel_flow(draw: Draw, pair: Propellants) -> float:
    """Return the fuel flow about [kg/s]."""
    area = 0.25 * np.pi * draw["throat"] ** 2
    c_star = C_STAR_HYDROGEN if pair.fuel == "hydrogen" else C_STAR
    return draw["pressure"] * area / c_star / (1.0 + pair.mixture_ratio)


def _along(at_throat: float, far: float, r_throat: float) -> Profile:
    x = (-2.0 * r_throat, -0.5 * r_throat, 0.5 * r_throat, 2.0 * r_throat)
    return Profile(x, (far, at_throat, at_throat, far))


def design(index: int) -> Design:
    """Return the design of a draw; coolants take turns."""
    draw = Draw(index)
    coolant = tuple(FEEDS)[index % len(FEEDS)]
    feed = FEEDS[coolant]
    pair = _propellants(draw, coolant)
    r = 0.5 * draw["throat"]
    wall, width = draw["wall"], draw["width"]
    depth = draw["depth"] * width
    count = max(int(2 * np.pi * (r + wall) / (width * (1.0 + draw["land"]))), 4)
    flux = draw.between("flux", *feed.flux, log=True)
    share = None
    if coolant == pair.fuel and draw.one_of("returns"):
        share = draw["share"]
        flow = share * _fuel_flow(draw, pair)
        fitting = flow / (flux * count * width)
        if LEAST_DEPTH * width < fitting < MOST_DEPTH * width:
            depth = fitting
        else:
            share = None
    flow = flux * count * width * depth
    inlet = draw.between("feed pressure", *feed.pressure, log=True)
    forms = feed.forms
    if inlet > DENSE * P_CRITICAL[coolant]:
        forms = (*forms, *feed.dense_forms)
    form = None if draw.one_of("default form") else draw.one_of("form", forms)
    alloy = draw.one_of("alloy")
    return Design(
        title=f"draw {index}",
        propellants=pair,
        chamber=Chamber(
            draw["pressure"],
            combustion_efficiency=draw["efficiency"],
            expansion=draw.one_of("expansion model"),  # type: ignore[arg-type]
        ),
        contour=ContourShape(
            contraction_ratio=draw["contraction"],
            area_ratio=draw["expansion"],
            throat_diameter=2.0 * r,
            characteristic_length=draw["length"],
        ),
        liner=Liner(alloy, ALLOYS[alloy][0], Profile.constant(wall)),
        channels=Channels(
            count=count,
            width=_along(width, width * draw["width_far"], r),
            depth=_along(depth, depth * draw["depth_far"], r),
            roughness=draw["roughness"],
        ),
        coolant=Coolant(
            fluid=coolant,  # type: ignore[arg-type]
            inlet_temperature=draw.between("feed temperature", *feed.temperature),
            enters_at=draw.one_of("enters_at"),  # type: ignore[arg-type]
            mass_flow=None if share else flow,
            fuel_fraction=share,
            inlet_pressure=inlet * 1e5,
            returns_to_injector=share is not None,
        ),
        closeout=Closeout(jacket=draw["nickel"]),
        models=Models(
            gas_side=draw.one_of("gas_side"),
            coolant_side=form,
            curvature=draw.one_of("curvature"),  # type: ignore[arg-type]
            entrance=bool(draw.one_of("entrance")),
            rough_gain=bool(draw.one_of("rough_gain")),
            radiation=draw.one_of("radiation"),  # type: ignore[arg-type]
            stations=STATIONS,
        ),
    )


def melts(design: Design) -> float:
    """Return the temperature that the hot wall must stay below [K]."""
    return ALLOYS[design.liner.alloy][1]

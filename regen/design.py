"""The design in SI: frozen values that every later step reads and none changes.

A section of the case file is a class here and a key one of its fields, in SI: its type and
annotation say how the file has it, the text below it what it means (``regen.case.keys``).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from regen.units import Number, Quantity

Oxidizer = Literal["oxygen", "hydrogen-peroxide", "nitrous-oxide"]
Fuel = Literal["hydrogen", "methane", "ethanol", "isopropanol", "propane", "RP-1"]
End = Literal["nozzle", "injector"]
Passes = Literal["one way", "down and back"]
CoolantFluid = Literal["hydrogen", "methane", "oxygen", "ethanol", "propane", "n-dodecane", "water"]
OWN_FLUID = "a fluid of the case's own table"
"""What correlations take a coolant for whose properties the case brings."""
Free = Literal["count", "width", "depth", "wall", "flow"]
RunOut = Literal["both ends", "nozzle", "injector", "neither"]
Route = Literal["electroformed", "HIP-bonded", "brazed", "printed"]
NickelBath = Literal["sulfamate", "watts"]
JACKET_CONDITION = "sulfamate"
NICKEL = "nickel-electroformed"
FilmFluid = Literal["hydrogen", "methane", "ethanol", "propane", "RP-1", "n-dodecane", "water"]

DERIVED = "derived"
"""Marks a field that other keys of the case make."""
IN_STEPS = "in steps"
"""Marks a whole number that may change in steps along x."""
OR_OF_FUEL = "or of the fuel"
"""Marks a mass flow that may be a fraction of the fuel, in the field ``fuel_fraction``."""
COOLANT = "coolant"
"""Marks the name of a coolant."""

OUTSIDE_TEMPERATURE = Quantity("temperature", "10 K", "1000 K")
WALL_TEMPERATURE = Quantity("temperature", "300 K", "1500 K")
COOLANT_PRESSURE = Quantity("pressure", "0.1 bar", "400 bar")
MASS_FLOW = Quantity("mass flow", "1e-5 kg/s", "2000 kg/s")
FILM_FLOW = Quantity("mass flow", "1e-6 kg/s", "500 kg/s")
POSITION = Quantity("length", "-5 m", "5 m")
SLOT = Quantity("length", "0.1 mm", "50 mm")
SLOTS = Number(4, 2000, whole=True)
WALL = Quantity("length", "0.05 mm", "20 mm")
JACKET = Quantity("length", "0.05 mm", "50 mm")
TOLERANCE = Quantity("length", "0 mm", "1 mm")
BORE = Quantity("length", "1 mm", "500 mm")
TAPS = Number(1, 200, whole=True)
LOSS = Number(0.0, 100.0)
RADIUS_RATIO = Number(0.05, 20.0)
CONTRACTION_RATIO = Number(1.2, 50.0)
AREA_RATIO = Number(1.01, 400.0)
CONDUCTIVITY = Quantity("conductivity", "0.05 W/(m K)", "500 W/(m K)")
RESISTANCE = Quantity("thermal resistance", "0 m2 K/W", "0.01 m2 K/W")
LAYER = Quantity("length", "0.01 mm", "50 mm")
STOCK = Quantity("length", "0 mm", "20 mm")
CURRENT_DENSITY = Quantity("current density", "0.01 A/dm2", "100 A/dm2")
EFFICIENCY = Number(0.3, 1.0)
GROWTH = Quantity("rate of growth", "0.1 um/h", "2000 um/h")
DEPOSIT_RATIO = Number(0.05, 10.0)
BATH = Quantity("temperature", "5 degC", "99 degC")
DEPOSIT_STRESS = Quantity("stress", "-500 MPa", "1000 MPa")


@dataclass(frozen=True, slots=True)
class Profile:
    """Piecewise-linear value [SI] at rising x [m], held at its first and last beyond them."""

    x: tuple[float, ...]
    value: tuple[float, ...]

    @classmethod
    def constant(cls, value: float) -> Profile:
        """Return the profile that has one value [SI] everywhere."""
        return cls((0.0,), (float(value),))

    def raised(self, by: float) -> Profile:
        """Return the profile with ``by`` [SI] added to every value."""
        return Profile(self.x, tuple(value + by for value in self.value))

    def at(self, x: ArrayLike) -> NDArray[np.float64]:
        """Return the value at ``x`` [m], same shape as ``x``."""
        return np.asarray(np.interp(np.asarray(x), self.x, self.value), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Propellants:
    """Propellant pair and the state in which each is stored."""

    oxidizer: Oxidizer
    """Oxidizer burned in the chamber."""
    fuel: Fuel
    """Fuel burned in the chamber."""
    mixture_ratio: Annotated[float, Number(0.05, 60.0)]
    """Mass flow of oxidizer over mass flow of fuel."""
    oxidizer_state: Literal["liquid", "gas"] = "liquid"
    """State in which the oxidizer is stored."""
    fuel_state: Literal["liquid", "gas"] = "liquid"
    """State in which the fuel is stored."""
    oxidizer_temperature: Annotated[float | None, OUTSIDE_TEMPERATURE] = None
    """Temperature of the stored oxidizer. Without it: the normal boiling point of a cryogen,
    298.15 K for the rest."""
    fuel_temperature: Annotated[float | None, OUTSIDE_TEMPERATURE] = None
    """Temperature of the stored fuel. Without it: the normal boiling point of a cryogen, 298.15
    K for the rest. Not used where the fuel cools the chamber first."""
    oxidizer_concentration: Annotated[float, Number(0.5, 1.0)] = 1.0
    """Mass fraction of hydrogen peroxide in the oxidizer, the rest water; for hydrogen-peroxide
    alone."""
    fuel_water: Annotated[float, Number(0.0, 0.5)] = 0.0
    """Mass fraction of water in the fuel, which mixture_ratio counts as fuel; for the liquids
    ethanol and isopropanol alone."""


@dataclass(frozen=True, slots=True)
class Chamber:
    """Chamber pressure, efficiency and chemistry."""

    pressure: Annotated[float, Quantity("pressure", "0.2 MPa", "40 MPa")]
    """Chamber pressure, absolute, measured at pressure_at."""
    pressure_at: Literal["injector", "nozzle"] = "injector"
    """Where the pressure is taken: injector (static at the face) or nozzle (stagnation)."""
    combustion_efficiency: Annotated[float, Number(0.3, 1.0)] = 1.0
    """Characteristic velocity over the ideal one, no heat returned: the gas is that of so much
    less enthalpy. Temperature and flux fall with it, mass flow rises."""
    expansion: Literal["shifting", "frozen", "frozen at throat"] = "shifting"
    """Chemistry of the expansion through the nozzle."""


@dataclass(frozen=True, slots=True)
class ContourShape:
    """Hot-gas contour: rules, or points in a file."""

    contraction_ratio: Annotated[float, CONTRACTION_RATIO]
    """Area of the barrel over area of the throat."""
    area_ratio: Annotated[float, AREA_RATIO]
    """Area of the nozzle exit over area of the throat."""
    throat_diameter: Annotated[float | None, Quantity("length", "2 mm", "2 m")] = None
    """Throat diameter; or give thrust."""
    thrust: Annotated[float | None, Quantity("force", "1 N", "20000 kN")] = None
    """Thrust at ambient_pressure, from which the throat is sized; or give throat_diameter."""
    ambient_pressure: Annotated[float, Quantity("pressure", "0 bar", "10 bar")] = 101325.0
    """Outside pressure for the thrust; 0 bar is vacuum."""
    barrel_length: Annotated[float | None, Quantity("length", "0 mm", "5 m")] = None
    """Length of the cylinder alone; or give characteristic_length."""
    characteristic_length: Annotated[float | None, Quantity("length", "50 mm", "20 m")] = None
    """Volume upstream of the throat over throat area; or give barrel_length."""
    convergent_half_angle: Annotated[float, Quantity("angle", "5 deg", "80 deg")] = np.pi / 6
    """Angle of the convergent cone to the axis."""
    barrel_radius_ratio: Annotated[float, RADIUS_RATIO] = 1.0
    """Radius of the blend from barrel to cone over throat radius."""
    throat_upstream_radius_ratio: Annotated[float, RADIUS_RATIO] = 1.5
    """Radius of the contour upstream of the throat over throat radius."""
    throat_downstream_radius_ratio: Annotated[float, RADIUS_RATIO] = 0.382
    """Radius of the contour downstream of the throat over throat radius."""
    nozzle: Literal["cone", "bell"] = "cone"
    """Shape downstream of the throat arc."""
    divergent_half_angle: Annotated[float, Quantity("angle", "1 deg", "45 deg")] = np.pi / 12
    """Half-angle of a cone."""
    bell_length_fraction: Annotated[float, Number(0.5, 1.2)] = 0.8
    """Length of a bell over that of a 15 degree cone with the same throat and exit."""
    bell_start_angle: Annotated[float | None, Quantity("angle", "5 deg", "60 deg")] = None
    """Angle of a bell to the axis at its start; a bell needs it."""
    bell_exit_angle: Annotated[float | None, Quantity("angle", "0 deg", "30 deg")] = None
    """Angle of a bell to the axis at its exit; a bell needs it."""


@dataclass(frozen=True, slots=True)
class ContourProfile:
    """Hot-gas contour read from a file: axial positions and radii [m], throat at x = 0."""

    x: tuple[float, ...]
    r: tuple[float, ...]
    source: str


@dataclass(frozen=True, slots=True)
class Heating:
    """A planned heating of a metal: what it is, its temperature [K] and time [s], None if not said.

    ``word`` is braze, HIP, bake, age, anneal or stress relief.
    """

    word: str
    temperature: float
    time: float | None = None

    def __str__(self) -> str:
        """Return the heating as a case has it."""
        at = f"{self.word} at {self.temperature - 273.15:.6g} degC"
        if self.time is None:
            return at
        hours = self.time / 3600.0
        return f"{at} for {hours:.6g} h" if hours >= 1.0 else f"{at} for {60.0 * hours:.6g} min"


@dataclass(frozen=True, slots=True)
class Allowables:
    """A strength of the user's own [Pa] at rising temperatures [K], straight in between."""

    T: tuple[float, ...]
    value: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class MaterialFile:
    """A file with stanzas of a user's own alloys, and the tables beside it by name, as texts."""

    name: str
    stanzas: str
    tables: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Liner:
    """Liner alloy, condition and hot wall."""

    alloy: Annotated[str, "the name of an alloy"]
    """Alloy of the liner; "regen list alloys" shows the names."""
    condition: Annotated[str, "the condition of the alloy"]
    """Heat treatment or state of work the strength data hold for; there is no default."""
    wall: Annotated[Profile, Quantity("length", "0.05 mm", "20 mm")]
    """Thickness of the hot wall, normal to the contour; may vary along x."""
    coating: Annotated[Profile | None, Quantity("length", "0 mm", "2 mm")] = None
    """Thickness of a coating on the hot wall; may vary along x. Its conductivity is needed
    too."""
    coating_conductivity: Annotated[float | None, CONDUCTIVITY] = None
    """Conductivity of the coating."""
    process: tuple[Heating, ...] = ()
    """Heatings the liner still sees after it came into its condition. Where the condition does
    not cover one of them, its strength is unknown until it is given."""
    yield_strength: Allowables | None = None
    """Yield of the user's own at temperatures, in place of the tabulated one: held below the
    first temperature, never extended above the last."""
    ultimate_strength: Allowables | None = None
    """Tensile strength of the user's own, the same."""


@dataclass(frozen=True, slots=True)
class Channels:
    """Slots in the outside of the liner."""

    count: Annotated[int, SLOTS, IN_STEPS]
    """Number of slots; pairs of x and number where it changes along x, each number from its x
    on: there the slots end in a plenum and others begin."""
    width: Annotated[Profile, SLOT]
    """Width at the slot floor; may vary along x."""
    depth: Annotated[Profile, SLOT]
    """Depth, normal to the contour; may vary along x."""
    roughness: Annotated[float, DERIVED]
    """Equivalent sand grain [m]."""
    cooled_from: Annotated[float | None, POSITION] = None
    """Position where the slots begin; without it at the injector face."""
    cooled_to: Annotated[float | None, POSITION] = None
    """Position where the slots end; without it at the nozzle exit."""
    cooled_to_area_ratio: Annotated[float | None, AREA_RATIO] = None
    """Area ratio of the nozzle where the slots end; in place of cooled_to."""
    count_changes: Annotated[tuple[tuple[float, int], ...], DERIVED] = ()
    """Positions [m] where other slots begin, and their number."""
    passes: Passes = "one way"
    """Way of the coolant: one way, or down and back, where every second slot leads it back to
    the end at which it enters."""
    turn_loss: Annotated[float, LOSS] = 2.2
    """Pressure loss in the turn between down and back, in dynamic pressures before it; two
    sharp right angles of about 1.1 each are common practice."""


@dataclass(frozen=True, slots=True)
class CoolantSaturation:
    """Saturation of a user's own coolant at rising pressures.

    Pressure [Pa], temperature [K], latent heat [J/kg], density of the vapour [kg/m3] and surface
    tension [N/m], all of one length.
    """

    file: str
    p: tuple[float, ...]
    T: tuple[float, ...]
    latent_heat: tuple[float, ...]
    vapour_density: tuple[float, ...]
    surface_tension: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class CoolantData:
    """Property table of a user's own coolant.

    At rising temperatures ``T`` [K] and, where the table has them, rising pressures ``p`` [Pa];
    without ``p`` the properties hold at any pressure. Of ``heat_capacity`` [J/(kg K)] and
    ``enthalpy`` [J/kg] one is given. Density [kg/m3], viscosity [Pa s], conductivity [W/(m K)] and
    ``sound_speed`` [m/s] are by pressure, then temperature.
    """

    file: str
    T: tuple[float, ...]
    p: tuple[float, ...]
    density: tuple[float, ...]
    viscosity: tuple[float, ...]
    conductivity: tuple[float, ...]
    heat_capacity: tuple[float, ...] = ()
    enthalpy: tuple[float, ...] = ()
    sound_speed: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Coolant:
    """Coolant and its feed."""

    fluid: Annotated[str, COOLANT]
    """Fluid in the slots; with a table of your own, its name. Named as the fuel, it burns as
    it."""
    inlet_temperature: Annotated[float, OUTSIDE_TEMPERATURE]
    """Coolant temperature in the inlet manifold."""
    enters_at: End = "nozzle"
    """End at which the coolant enters: nozzle (counterflow) or injector (co-flow)."""
    mass_flow: Annotated[float | None, MASS_FLOW, OR_OF_FUEL] = None
    """Mass flow of all slots together: "fuel", a share of it such as "0.8 fuel", or a value
    with unit."""
    fuel_fraction: Annotated[float | None, DERIVED] = None
    """Mass flow over that of the fuel; one of the two is given."""
    inlet_pressure: Annotated[float | None, COOLANT_PRESSURE] = None
    """Pressure in the inlet manifold, absolute; or give outlet_pressure."""
    outlet_pressure: Annotated[float | None, COOLANT_PRESSURE] = None
    """Pressure in the outlet manifold, absolute, for which the inlet is solved; or give
    inlet_pressure."""
    inlet_loss: Annotated[float, LOSS] = 0.5
    """Pressure loss from inlet manifold into the slots, in dynamic pressures there: about 0.5
    with a sharp edge, 0.05 to 0.2 well rounded (common practice). It holds for every plenum on
    the way too."""
    outlet_loss: Annotated[float, LOSS] = 1.0
    """Pressure loss from the slots into the outlet manifold, in dynamic pressures there: 1
    where the coolant comes to rest. It holds for every plenum on the way too."""
    returns_to_injector: bool = False
    """True if the coolant burns as the fuel, so that its heat returns to the chamber. Without
    it: true where the coolant is the fuel and mass_flow is given by the fuel, else false."""
    feeds_injector: bool | None = False
    """True if this flow goes to the injector, whose pressure drop is then judged. Without it:
    true where mass_flow is given by the fuel or the heat returns; left open for other flows of
    a propellant; else false."""
    table: CoolantData | None = None
    """Property table of a coolant of your own, a text file with units in its header: T,
    density, heat_capacity or enthalpy, viscosity, conductivity, and if they are known p and
    sound_speed. docs/coolants.md shows the form."""
    saturation: CoolantSaturation | None = None
    """Its saturation, the same way: p, T, latent_heat, vapour_density, surface_tension. Without
    it boiling and burnout are not judged."""
    critical_pressure: Annotated[float | None, COOLANT_PRESSURE] = None
    """Its critical pressure: needed with saturation; without it, said to stay above it."""
    molar_mass: Annotated[float | None, Quantity("molar mass", "2 g/mol", "1000 g/mol")] = None
    """Its molar mass, needed with saturation."""

    @property
    def correlated_as(self) -> str:
        """The fluid that correlations are chosen for."""
        return self.fluid if self.table is None else OWN_FLUID

    @property
    def may_boil_below(self) -> float:
        """Pressure below which it may boil with nothing known of it [Pa]; 0 where all is known."""
        if self.table is None or self.saturation is not None:
            return 0.0
        return np.inf if self.critical_pressure is None else self.critical_pressure


@dataclass(frozen=True, slots=True)
class Manifolds:
    """Ring manifolds with radial pipes: how evenly the slots are fed."""

    inlet_bore: Annotated[float | None, BORE] = None
    """Inside diameter of the inlet ring, or of a round one with the same area. Without bores
    shop.flow_shortfall stands for the manifolds."""
    inlet_taps: Annotated[int | None, TAPS] = None
    """Pipes into the inlet ring, evenly spaced."""
    outlet_bore: Annotated[float | None, BORE] = None
    """Inside diameter of the outlet ring, the same."""
    outlet_taps: Annotated[int | None, TAPS] = None
    """Pipes out of the outlet ring, evenly spaced."""
    outlet_turn: Annotated[float | None, Quantity("angle", "0 deg", "360 deg")] = None
    """Angle around the axis from an inlet pipe to an outlet pipe; needed where both rings are
    given."""
    recovery: Annotated[float, Number(0.0, 1.0)] = 0.7
    """Static recovery of the inlet ring: rise of pressure over fall of dynamic head where slots
    draw off its flow; 0.4 to 0.9 is usual (from memory, medium confidence)."""


@dataclass(frozen=True, slots=True)
class Circuit:
    """One of several circuits that cool the chamber side by side or one behind the other.

    What it leaves out is taken from [channels] and [coolant].
    """

    name: Annotated[str, DERIVED]
    channels: Annotated[Channels, DERIVED]
    enters_at: End = "nozzle"
    """End of the circuit at which the coolant enters: nozzle (counterflow) or injector."""
    mass_flow: Annotated[float | None, MASS_FLOW] = None
    """Its metered mass flow; for all circuits, and together coolant.mass_flow. Without flows and
    shares, the split is found at which all circuits lose the same pressure."""
    share: Annotated[float | None, Number(1e-4, 1.0)] = None
    """Its metered share of coolant.mass_flow; for all circuits, and together 1."""


@dataclass(frozen=True, slots=True)
class Closeout:
    """Layers that close the slots."""

    copper: Annotated[float, Quantity("length", "0 mm", "10 mm")] = 0.2e-3
    """Thickness of the electroformed copper over the filled slots."""
    jacket: Annotated[float, JACKET] = 3.0e-3
    """Thickness of a jacket of another metal, in place of nickel."""
    jacket_alloy: Annotated[str, "the name of an alloy"] = NICKEL
    """Metal of the jacket, if it is no electroformed nickel."""
    jacket_condition: Annotated[str, "the condition of the alloy"] = JACKET_CONDITION
    """Condition that the jacket's strength holds for; of nickel, its bath."""
    route: Route = "electroformed"
    """How the jacket is made: electroformed, or of another metal HIP-bonded, brazed or
    printed."""
    bond_strength: Annotated[float, Quantity("stress", "1 MPa", "1000 MPa")] = 70e6
    """Strength of the bond between lands and closeout in tension, from the shop's coupons;
    without it 70 MPa (common practice)."""
    jacket_process: tuple[Heating, ...] = ()
    """Heatings the jacket still sees after it came into its condition."""
    jacket_yield_strength: Allowables | None = None
    """Yield of the jacket at temperatures, in place of the tabulated one."""
    jacket_ultimate_strength: Allowables | None = None
    """Tensile strength of the jacket, the same."""
    jacket_sulfur: Literal["low", "not stated"] = "not stated"
    """low where the deposit is known to hold less than 10 to 20 ppm of sulfur (no brightener,
    no saccharin); then annealed nickel is a floor for its strength up to 473 K."""

    @property
    def thickness(self) -> float:
        """All layers together [m]."""
        return self.copper + self.jacket


@dataclass(frozen=True, slots=True)
class Plating:
    """How copper and nickel are plated; what is left out is the bath's usual value."""

    nickel_bath: NickelBath | None = None
    """Bath of the nickel; without it what closeout.jacket_condition names."""
    skin: Literal["silver powder", "graphite"] = "silver powder"
    """What makes the wax conductive."""
    nickel_current_density: Annotated[float | None, CURRENT_DENSITY] = None
    """Mean current density of the nickel; without it the usual one of the bath."""
    copper_current_density: Annotated[float | None, CURRENT_DENSITY] = None
    """The same of the copper."""
    nickel_efficiency: Annotated[float | None, EFFICIENCY] = None
    """Cathode efficiency of the nickel: metal deposited over that of Faraday's law. It
    multiplies the thickness."""
    copper_efficiency: Annotated[float | None, EFFICIENCY] = None
    """The same of the copper."""
    nickel_rate: Annotated[float | None, GROWTH] = None
    """Growth of the nickel's mean thickness as the shop measured it over the time in the bath;
    it overrides current density and efficiency in the hours."""
    copper_rate: Annotated[float | None, GROWTH] = None
    """The same of the copper."""
    nickel_profile: Annotated[Profile | None, DEPOSIT_RATIO] = None
    """Local over mean thickness of the nickel along x, from a coupon map or with shields; only
    ratios of its values count. Without it both ends get 1.3 times the throat's."""
    copper_profile: Annotated[Profile | None, DEPOSIT_RATIO] = None
    """The same of the copper."""
    nickel_stock: Annotated[float | None, STOCK] = None
    """Nickel above the finished thickness at the thinnest place, for the last turning; without
    it 1 mm, or 0.3 of the finished thickness where that is more."""
    copper_stock: Annotated[float | None, STOCK] = None
    """The same of the copper; without it 0.1 mm."""
    nickel_deposit: Annotated[float | None, LAYER] = None
    """Mean thickness of nickel that is plated in all, if it is fixed; without it what the
    thinnest place needs."""
    copper_deposit: Annotated[float | None, LAYER] = None
    """The same of the copper."""
    turn_each: Annotated[float | None, Quantity("length", "0.05 mm", "20 mm")] = None
    """Mean growth of nickel after which nodules are turned off; without it 1 mm."""
    turn_cut: Annotated[float | None, Quantity("length", "0 mm", "5 mm")] = None
    """What each turning between takes off at the thinnest place; without it 0.2 mm."""
    turn_tolerance: Annotated[float | None, TOLERANCE] = None
    """A turned layer may be this much thinner than drawn; without it 0.05 mm."""
    turn_time: Annotated[float | None, Quantity("time", "0 h", "1000 h")] = None
    """Time of one turning with taking down, activating and hanging up again; without it 24
    h."""
    ends: Literal["plated", "masked"] = "plated"
    """Whether the faces at both ends of the part are plated too, or masked."""
    extra_area: Annotated[float, Quantity("area", "0 dm2", "1000 dm2")] = 0.0
    """Further area in the same current: racks, shields, thieves, coupons."""
    nickel_bath_temperature: Annotated[float | None, BATH] = None
    """Temperature of the nickel bath; without it the usual one."""
    copper_bath_temperature: Annotated[float | None, BATH] = None
    """The same of the copper bath."""
    wax_melts: Annotated[float | None, Quantity("temperature", "20 degC", "200 degC")] = None
    """Temperature at which the wax begins to melt."""
    nickel_stress: Annotated[float | None, DEPOSIT_STRESS] = None
    """Stress of the nickel as deposited, tension positive, from strip or spiral; without it 40
    MPa in sulfamate."""
    copper_stress: Annotated[float | None, DEPOSIT_STRESS] = None
    """The same of the copper."""
    toughness: Annotated[float | None, Quantity("toughness", "1 J/m2", "20000 J/m2")] = None
    """Toughness of the bond between plating and liner, from the shop's coupon."""
    unbond: Annotated[float | None, Quantity("length", "0.1 mm", "500 mm")] = None
    """Widest unbonded patch that inspection may leave unseen."""
    barrier: Annotated[float | None, Quantity("length", "0.1 mm", "5 mm")] = None
    """Least copper between hydrogen and jacket, after turning, at the thinnest place."""


@dataclass(frozen=True, slots=True)
class Models:
    """Correlations and resolution."""

    basis: Literal["design", "best estimate"] = "design"
    """What the nominal gas side is for: design (conservative) or best estimate; or name
    gas_side."""
    gas_side: Annotated[str | None, "the name of a gas-side correlation"] = None
    """Gas-side correlation; "regen list correlations" shows the names. Without it basis
    chooses."""
    coolant_side: Annotated[str | None, "the name of a coolant-side correlation"] = None
    """Coolant-side correlation; without it the rule for fluid and pressure chooses."""
    friction: Annotated[str, "the name of a friction law"] = "colebrook"
    """Friction law of the slots."""
    boiling: Annotated[str | None, "the name of a boiling correlation"] = None
    """Boiling correlation; without it the rule for the fluid chooses."""
    barrel_factor: Annotated[float, Number(0.1, 3.0)] = 1.0
    """Measured over computed heat flux at the same wall temperature, in the barrel of a fired
    chamber of the same kind."""
    throat_factor: Annotated[float, Number(0.1, 3.0)] = 1.0
    """The same at the throat."""
    curvature: Literal["reductions", "both ways", "off"] = "reductions"
    """Bends of the slots: reductions counts where they lower the coolant's film coefficient,
    both ways also where they raise it (the throat), off neither. Unless off, the bend's
    friction is counted."""
    entrance: bool = False
    """True to credit the slots' entrance with a higher coolant film coefficient, in
    correlations that do not know it."""
    rough_gain: bool = False
    """True to credit rough slots with a higher coolant film coefficient. Their pressure drop is
    always counted."""
    mixing_factor: Annotated[Profile | None, Number(0.05, 3.0)] = None
    """Heat flux over that of a fully mixed gas at the same wall temperature, along x: injector
    elements that mix slowly heat the first part of the barrel less. Multiplies the two
    above."""
    freeze_temperature: Annotated[float, Quantity("temperature", "300 K", "6000 K")] = 1500.0
    """Gas temperature beside the wall below which its composition is frozen: 300 K is
    equilibrium all the way, 6000 K the composition of the core. Never above the core's own
    temperature."""
    radiation: Literal["off", "barrel", "everywhere"] = "off"
    """Radiation of H2O and CO2: off, barrel (full in the barrel, fading with the area to
    nothing at the throat) or everywhere. Uncertain by a factor of two."""
    deposit_resistance: Annotated[Profile | None, RESISTANCE] = None
    """Thermal resistance of soot or coke on the hot wall; may vary along x."""
    conductivity_factor: Annotated[float, Number(0.3, 1.5)] = 1.0
    """Conductivity of the liner over that of its table, as measured on its bar, print or
    braze."""
    stations: Annotated[int, Number(20, 2000, whole=True)] = 75
    """Number of stations along the cooled length; with circuits or passes, along each."""


@dataclass(frozen=True, slots=True)
class Film:
    """Film of coolant along the hot wall, or a wall layer of another mixture ratio."""

    fluid: FilmFluid
    """Fluid of the film; without it the fuel."""
    model: Literal["entrainment", "slot", "layer mixture ratio"] = "entrainment"
    """How the film mixes with the core: entrainment, slot, or a layer mixture ratio, which
    needs no film flow."""
    mass_flow: Annotated[float | None, FILM_FLOW, OR_OF_FUEL] = None
    """Mass flow of the film, on top of the propellants: a share of the fuel such as "0.08
    fuel", or a value with unit."""
    fuel_fraction: Annotated[float | None, DERIVED] = None
    """Mass flow over that of the fuel; one of the two is given."""
    state: Literal["liquid", "gas"] = "liquid"
    """State in which the film is injected."""
    temperature: Annotated[float | None, OUTSIDE_TEMPERATURE] = None
    """Temperature at which the film is injected. Without it: the normal boiling point of a
    liquid cryogen, 298.15 K for the rest."""
    injected_at: Annotated[float | None, POSITION] = None
    """Position where the film begins, upstream of the throat; without it the injector face."""
    entrainment: Annotated[float, Number(0.002, 1.0)] = 0.05
    """Core flow that mixes into the film over that which passes the same area; to be calibrated
    by test."""
    slot_height: Annotated[float | None, Quantity("length", "0.02 mm", "20 mm")] = None
    """Height of the slot the film comes from; for the model slot."""
    layer_mixture_ratio: Annotated[Profile | None, Number(0.05, 60.0)] = None
    """Mixture ratio of the gas beside the wall, for the model layer mixture ratio; may vary
    along x."""


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits the verdict is judged by."""

    T_wall_hot: Annotated[float | None, WALL_TEMPERATURE] = None
    """Highest hot-wall temperature; without it that of the alloy."""
    T_wall_cold: Annotated[float | None, WALL_TEMPERATURE] = None
    """Highest temperature of the slot floor, at its hottest place; without it that of the
    coolant."""
    yield_factor: Annotated[float, Number(1.0, 10.0)] = 1.25
    """Factor of safety on yield under pressure."""
    ultimate_factor: Annotated[float, Number(1.0, 10.0)] = 1.4
    """Factor of safety on tensile strength, and on the bond of the lands."""
    proof_factor: Annotated[float, Number(1.0, 5.0)] = 1.2
    """Pressure of the proof test over the highest in operation, before the strength lost by
    heat is added."""
    burnout_fraction: Annotated[float | None, Number(0.05, 1.0)] = None
    """Highest wetted flux over burnout flux; 0.5 without it (common practice)."""
    burnout_flux: Annotated[float | None, Quantity("heat flux", "0.1 MW/m2", "200 MW/m2")] = None
    """Burnout flux of this coolant in these channels, as measured; without it a correlation of
    water."""
    mach: Annotated[float, Number(0.01, 1.0)] = 0.3
    """Highest coolant Mach number."""
    injector_drop_fraction: Annotated[float, Number(0.01, 1.0)] = 0.2
    """Least pressure drop left for the injector over chamber pressure."""
    service: Literal["short", "long"] = "short"
    """Length of service at temperature: short (minutes in all) or long."""
    life_factor: Annotated[float, Number(1.0, 100.0)] = 4.0
    """Conservative life over the firings asked for, at least; 4 without it (from memory, medium
    confidence)."""


@dataclass(frozen=True, slots=True)
class Life:
    """Firings that the liner must live, and what its life is judged by."""

    firings: Annotated[int | None, Number(1, 1_000_000, whole=True)] = None
    """Firings that the liner must live; without it life is reported and not judged."""
    firing_duration: Annotated[float | None, Quantity("time", "0.01 s", "1000 h")] = None
    """Time at temperature of each firing, for damage by creep."""
    ductility: Annotated[float | None, Number(0.01, 0.99)] = None
    """Reduction of area of the liner in a tensile test at temperature, in place of that of its
    table: a generic life law needs it, and its ultimate strength."""
    fatigue_strength: Annotated[float | None, Quantity("stress", "10 MPa", "5000 MPa")] = None
    """Strain-life law of the liner, from its own tests: fatigue strength coefficient. The law
    needs all five keys."""
    fatigue_strength_exponent: Annotated[float | None, Number(-0.3, -0.01)] = None
    """Its fatigue strength exponent, usually -0.05 to -0.12."""
    fatigue_ductility: Annotated[float | None, Number(0.001, 10.0)] = None
    """Its fatigue ductility coefficient."""
    fatigue_ductility_exponent: Annotated[float | None, Number(-1.2, -0.3)] = None
    """Its fatigue ductility exponent, usually -0.5 to -0.7."""
    fatigue_temperature: Annotated[float | None, OUTSIDE_TEMPERATURE] = None
    """Temperature of its tests."""
    start_temperature: Annotated[float, OUTSIDE_TEMPERATURE] = 293.15
    """Temperature of the metal before ignition."""


@dataclass(frozen=True, slots=True)
class Cutter:
    """A cutter of the shop: a disc saw of a diameter, or an end mill; lengths [m].

    It cuts slots of its width, at most ``depth`` deep, a saw's from its collar to its rim; None
    where that is not given.
    """

    kind: Literal["saw", "end mill"]
    width: Annotated[float, SLOT]
    depth: Annotated[float | None, Quantity("length", "0.1 mm", "100 mm")] = None
    diameter: Annotated[float | None, Quantity("length", "5 mm", "500 mm")] = None


@dataclass(frozen=True, slots=True)
class Shop:
    """What one slot and one streak of hot gas may differ by: the worst channel."""

    width_tolerance: Annotated[float, TOLERANCE] = 0.03e-3
    """A slot may be this much narrower."""
    depth_tolerance: Annotated[float, TOLERANCE] = 0.05e-3
    """A slot may be this much shallower."""
    wall_tolerance: Annotated[float, TOLERANCE] = 0.05e-3
    """The hot wall may be this much thicker."""
    flow_shortfall: Annotated[float, Number(0.0, 0.9)] = 0.10
    """Share of its flow that one slot may lack."""
    streak: Annotated[float, Number(0.0, 3.0)] = 0.20
    """Share by which the flux under an injector streak may be higher."""
    least_land: Annotated[float, Quantity("length", "0.05 mm", "20 mm")] = 0.5e-3
    """Thinnest land that the shop cuts: a limit of the drawing, which sizing keeps."""
    greatest_aspect: Annotated[float, Number(0.2, 30.0)] = 8.0
    """Greatest depth over width that the shop cuts: a limit of the drawing, which sizing
    keeps."""
    cutters: tuple[Cutter, ...] = ()
    """Saws and end mills of the shop: kind, width, largest depth of cut, diameter of a saw's
    disc. The slots are to have their widths and no more than their depths; sizing takes one of
    the widths; the cut floor is that of the cutters."""
    run_out: RunOut = "both ends"
    """Ends of the slots through which a cutter may leave: both ends, nozzle, injector, neither.
    At the others a saw's disc leaves a ramp."""


@dataclass(frozen=True, slots=True)
class Sizing:
    """What "regen size" may change, and for what."""

    free: tuple[Free, ...] = ("count", "width", "depth")
    """Sizes that are free: count, width, depth, wall (the hot wall), flow (of the coolant)."""
    minimise: Literal["pressure drop", "wall temperature", "mass"] = "pressure drop"
    """What is made least: the pressure drop between the manifolds, the peak wall temperature,
    or the mass of the cooled length."""
    held_at: Literal["nominal channel", "worst channel", "band edge"] = "worst channel"
    """Where the limits are to hold: for the nominal channel alone, for the worst channel too,
    or for both and the band edge."""
    margin: Annotated[float, Number(0.0, 0.9)] = 0.0
    """Margin to be kept beyond every limit, over the limit."""
    count_from: Annotated[int | None, SLOTS] = None
    """Fewest slots; without it half of the case's."""
    count_to: Annotated[int | None, SLOTS] = None
    """Most slots; without it twice the case's."""
    width_from: Annotated[float | None, SLOT] = None
    """Least width; without it half of the case's narrowest."""
    width_to: Annotated[float | None, SLOT] = None
    """Greatest width; without it twice the case's widest."""
    depth_from: Annotated[float | None, SLOT] = None
    """Least depth; without it a third of the case's shallowest."""
    depth_to: Annotated[float | None, SLOT] = None
    """Greatest depth; without it twice the case's deepest."""
    wall_from: Annotated[float | None, WALL] = None
    """Thinnest hot wall; without it two thirds of the case's thinnest."""
    wall_to: Annotated[float | None, WALL] = None
    """Thickest hot wall; without it one and a half of the case's thickest."""
    flow_from: Annotated[float | None, MASS_FLOW, OR_OF_FUEL] = None
    """Least coolant flow; without it 0.7 of the case's."""
    flow_to: Annotated[float | None, MASS_FLOW, OR_OF_FUEL] = None
    """Greatest coolant flow; without it 1.3 of the case's, and at most all of the fuel."""
    flow_by_fuel: Annotated[bool, DERIVED] = True
    """Whether flow_from and flow_to are fractions of the fuel."""
    depth_points: Annotated[int, Number(1, 12, whole=True)] = 6
    """Points of the depth along the slots, straight in between; 1 for one depth."""
    depth_slope: Annotated[float, Number(0.005, 1.0)] = 0.1
    """Greatest change of depth over length that the cutter follows."""


@dataclass(frozen=True, slots=True)
class Distribution:
    """How one key of the case is spread about its own value, for a study of uncertainty.

    ``amount`` is the half-width ("uniform", "triangular") or the standard deviation ("normal"),
    by ``measure`` in SI, as a share of the own value, or as a share of the fuel. A "discrete" one
    is of ``names`` of correlations with equal weights, empty for all that apply.
    """

    key: str
    law: Literal["uniform", "normal", "triangular", "discrete"]
    amount: float = 0.0
    measure: Literal["SI", "of own", "of fuel"] = "SI"
    names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Design:
    """One checked design, all in SI."""

    title: str
    propellants: Propellants
    chamber: Chamber
    contour: ContourShape | ContourProfile
    liner: Liner
    channels: Channels
    coolant: Coolant
    manifolds: Manifolds | None = None
    closeout: Closeout = field(default_factory=Closeout)
    plating: Plating = field(default_factory=Plating)
    models: Models = field(default_factory=Models)
    limits: Limits = field(default_factory=Limits)
    life: Life = field(default_factory=Life)
    shop: Shop = field(default_factory=Shop)
    film: Film | None = None
    sizing: Sizing = field(default_factory=Sizing)
    circuits: tuple[Circuit, ...] = ()
    """In the order of the case; empty where all slots are one circuit."""
    notes: tuple[str, ...] = ()
    """Warnings found while the case was checked."""
    uncertainty: tuple[Distribution, ...] = ()
    """In the order of the case; empty where it gives none."""
    materials: tuple[MaterialFile, ...] = ()
    """Alloys of the user's own, as texts: they go wherever the design goes."""

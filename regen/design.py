"""The design in SI: frozen values that every later step reads and none changes."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

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


@dataclass(frozen=True, slots=True)
class Profile:
    """Piecewise-linear value along the axis, held at its first and last value beyond them.

    Parameters
    ----------
    x : tuple of float
        Rising axial positions [m], throat at 0, injector side negative.
    value : tuple of float
        Value at each position, in SI.
    """

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
        return np.asarray(
            np.interp(np.asarray(x, dtype=np.float64), self.x, self.value), dtype=np.float64
        )


@dataclass(frozen=True, slots=True)
class Propellants:
    """Propellant pair and the state in which each enters.

    ``*_temperature`` None means the usual storage state: the normal boiling point for a
    cryogen, 298.15 K for the rest. ``*_state`` is "liquid" or "gas".
    """

    oxidizer: Oxidizer
    fuel: Fuel
    mixture_ratio: float
    oxidizer_state: Literal["liquid", "gas"] = "liquid"
    fuel_state: Literal["liquid", "gas"] = "liquid"
    oxidizer_temperature: float | None = None
    fuel_temperature: float | None = None
    oxidizer_concentration: float = 1.0
    """Mass fraction of hydrogen peroxide in the oxidizer, the rest water."""
    fuel_water: float = 0.0
    """Mass fraction of water in an alcohol fuel."""


@dataclass(frozen=True, slots=True)
class Chamber:
    """Chamber pressure [Pa], where it is measured, efficiency and chemistry model."""

    pressure: float
    pressure_at: Literal["injector", "nozzle"] = "injector"
    combustion_efficiency: float = 1.0
    expansion: Literal["shifting", "frozen", "frozen at throat"] = "shifting"


@dataclass(frozen=True, slots=True)
class ContourShape:
    """Rules that define the hot-gas contour; lengths [m], angles [rad].

    Exactly one of ``throat_diameter`` and ``thrust`` [N], and exactly one of
    ``barrel_length`` and ``characteristic_length`` is given.
    """

    contraction_ratio: float
    area_ratio: float
    throat_diameter: float | None = None
    thrust: float | None = None
    ambient_pressure: float = 101325.0
    barrel_length: float | None = None
    characteristic_length: float | None = None
    convergent_half_angle: float = np.pi / 6
    barrel_radius_ratio: float = 1.0
    """Radius of the blend from barrel to cone over throat radius."""
    throat_upstream_radius_ratio: float = 1.5
    throat_downstream_radius_ratio: float = 0.382
    nozzle: Literal["cone", "bell"] = "cone"
    divergent_half_angle: float = np.pi / 12
    """Half-angle of a cone."""
    bell_length_fraction: float = 0.8
    bell_start_angle: float | None = None
    bell_exit_angle: float | None = None


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
    """Liner alloy, its condition and the hot wall's thickness [m], normal to the contour.

    ``coating`` is the thickness of what covers the hot wall [m] and ``coating_conductivity`` its
    conductivity [W/(m K)]; both are given or neither. ``process`` are the heatings it still sees;
    ``yield_strength`` and ``ultimate_strength`` replace those of its table.
    """

    alloy: str
    condition: str
    wall: Profile
    coating: Profile | None = None
    coating_conductivity: float | None = None
    process: tuple[Heating, ...] = ()
    yield_strength: Allowables | None = None
    ultimate_strength: Allowables | None = None


@dataclass(frozen=True, slots=True)
class Channels:
    """Slots in the liner's outside: lengths [m]; depth normal to the contour, width at the floor.

    ``count`` holds from the injector side on, each of ``count_changes`` (x [m], count) from its x
    on: there the slots end in a plenum and others begin. ``passes`` "down and back": every second
    slot leads the coolant back, and ``turn_loss`` dynamic pressures are lost in the turn.
    ``roughness`` is the equivalent sand grain [m]; ``cooled_from`` and ``cooled_to`` are axial
    positions [m], None for the contour's ends; ``cooled_to_area_ratio`` places the nozzle end.
    """

    count: int
    width: Profile
    depth: Profile
    roughness: float
    cooled_from: float | None = None
    cooled_to: float | None = None
    cooled_to_area_ratio: float | None = None
    count_changes: tuple[tuple[float, int], ...] = ()
    passes: Passes = "one way"
    turn_loss: float = 2.2
    """Two sharp right angles of about 1.1 each: common practice."""


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
    """Coolant feed.

    Exactly one of ``mass_flow`` [kg/s] and ``fuel_fraction`` is given, and exactly one of
    ``inlet_pressure`` and ``outlet_pressure`` [Pa, absolute, plenum at rest].

    ``returns_to_injector``: the coolant burns as the fuel, so its heat returns to the chamber.
    ``feeds_injector``: it goes to the injector, whose pressure drop is then judged; None where
    the case leaves that open.



    With a ``table`` of its own the coolant has any name. ``saturation`` comes with
    ``critical_pressure`` [Pa] and ``molar_mass`` [kg/mol]; without it boiling is not judged.
    """

    fluid: str
    """One of ``CoolantFluid``; with a ``table``, the user's own name."""
    inlet_temperature: float
    enters_at: End = "nozzle"
    mass_flow: float | None = None
    fuel_fraction: float | None = None
    inlet_pressure: float | None = None
    outlet_pressure: float | None = None
    inlet_loss: float = 0.5
    outlet_loss: float = 1.0
    returns_to_injector: bool = False
    feeds_injector: bool | None = False
    table: CoolantData | None = None
    saturation: CoolantSaturation | None = None
    critical_pressure: float | None = None
    molar_mass: float | None = None

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
    """Ring manifolds round the jacket: bores [m], feed pipes, angle between them [rad].

    A ring without bore has the same pressure everywhere. ``recovery`` is the static recovery of
    the inlet ring [-]; ``outlet_turn`` the angle from an inlet pipe to an outlet pipe.
    """

    inlet_bore: float | None = None
    inlet_taps: int | None = None
    outlet_bore: float | None = None
    outlet_taps: int | None = None
    outlet_turn: float | None = None
    recovery: float = 0.7


@dataclass(frozen=True, slots=True)
class Circuit:
    """One of several parallel circuits: its slots, and the end at which its coolant enters.

    At most one of ``mass_flow`` [kg/s] and ``share`` of the coolant's flow [-] is given, to all
    circuits or to none; without them the split is that of equal pressure drop.
    """

    name: str
    channels: Channels
    enters_at: End = "nozzle"
    mass_flow: float | None = None
    share: float | None = None


@dataclass(frozen=True, slots=True)
class Closeout:
    """Closeout layers [m]: thin electroformed copper, then a thick jacket.

    ``route`` says how the jacket is made; the jacket is electroformed nickel unless another metal
    is named. ``bond_strength`` is that of the lands' bond in tension [Pa]. ``jacket_process`` are
    the heatings the jacket still sees; ``jacket_yield_strength`` and
    ``jacket_ultimate_strength`` replace those of its table. ``jacket_sulfur`` says whether the
    deposit's sulfur is known to be low.
    """

    copper: float = 0.2e-3
    jacket: float = 3.0e-3
    jacket_alloy: str = NICKEL
    jacket_condition: str = JACKET_CONDITION
    route: Route = "electroformed"
    bond_strength: float = 70e6
    """Common practice, until the shop's own coupons say more."""
    jacket_process: tuple[Heating, ...] = ()
    jacket_yield_strength: Allowables | None = None
    jacket_ultimate_strength: Allowables | None = None
    jacket_sulfur: Literal["low", "not stated"] = "not stated"

    @property
    def thickness(self) -> float:
        """All layers together [m]."""
        return self.copper + self.jacket


@dataclass(frozen=True, slots=True)
class Plating:
    """How copper and nickel are plated, and what the shop's coupons gave.

    None means the built-in value of the bath (``data/plating.toml``), or what the text of a field
    says. ``*_current_density`` [A/m2]; ``*_efficiency`` of the cathode [-]; ``*_rate`` is a
    measured growth of the mean thickness that overrides both [m/s]; ``*_profile`` local over mean
    thickness along x [-]; ``*_deposit`` the mean thickness that is plated in all [m].

    The nickel is turned back after each ``turn_each`` of mean growth [m], by ``turn_cut`` at its
    thinnest place [m], and a turned surface may lie ``turn_tolerance`` too deep [m]. ``turn_time``
    is what one turning takes with taking down, activating and hanging up again [s].

    ``*_stress`` is the deposit's own stress, tension positive [Pa]; ``toughness`` that of the bond
    [J/m2]; ``unbond`` the diameter of an unbonded patch that inspection may leave [m]; ``barrier``
    the copper that must keep hydrogen from the jacket [m].
    """

    nickel_bath: NickelBath | None = None
    """None for what ``closeout.jacket_condition`` names."""
    skin: Literal["silver powder", "graphite"] = "silver powder"
    nickel_current_density: float | None = None
    copper_current_density: float | None = None
    nickel_efficiency: float | None = None
    copper_efficiency: float | None = None
    nickel_rate: float | None = None
    copper_rate: float | None = None
    nickel_profile: Profile | None = None
    """None for 1.3 at both ends over 1 at the throat."""
    copper_profile: Profile | None = None
    nickel_stock: float | None = None
    """None for 1 mm, or 0.3 of the finished thickness where that is more."""
    copper_stock: float | None = None
    nickel_deposit: float | None = None
    """None for what the thinnest place needs."""
    copper_deposit: float | None = None
    turn_each: float | None = None
    turn_cut: float | None = None
    turn_tolerance: float | None = None
    turn_time: float | None = None
    ends: Literal["plated", "masked"] = "plated"
    """Faces of the part at both ends of the slots."""
    extra_area: float = 0.0
    """Plated beside the part: racks, shields, thieves [m2]."""
    nickel_bath_temperature: float | None = None
    copper_bath_temperature: float | None = None
    wax_melts: float | None = None
    nickel_stress: float | None = None
    copper_stress: float | None = None
    toughness: float | None = None
    unbond: float | None = None
    barrier: float | None = None


@dataclass(frozen=True, slots=True)
class Models:
    """Choice of models. None means the default rule for the fluid and regime.

    ``basis`` chooses the gas-side correlation where ``gas_side`` does not name it.

    ``barrel_factor`` and ``throat_factor`` are measured over computed heat flux at the same wall
    temperature, of a chamber of the same kind; in between they go with the area ratio, and
    downstream the throat's holds. ``mixing_factor`` multiplies them along the axis [-].
    ``freeze_temperature`` [K] is that below which the composition beside the wall is frozen,
    ``deposit_resistance`` that of soot or coke on the hot wall [m2 K/W], and ``radiation`` where
    that of the gas is added: full in the barrel and fading to the throat, or everywhere.

    ``conductivity_factor`` is the liner's conductivity over that of its table [-].

    ``curvature``: bends lower the coolant's film coefficient where the hot wall is on the
    inside ("reductions"), and raise it at the throat too ("both ways"), or do nothing ("off").
    ``entrance``: the inlet raises it; ``rough_gain``: roughness raises it.
    """

    basis: Literal["design", "best estimate"] = "design"
    gas_side: str | None = None
    coolant_side: str | None = None
    friction: str = "colebrook"
    boiling: str | None = None
    barrel_factor: float = 1.0
    throat_factor: float = 1.0
    curvature: Literal["reductions", "both ways", "off"] = "reductions"
    entrance: bool = False
    rough_gain: bool = False
    mixing_factor: Profile | None = None
    freeze_temperature: float = 1500.0
    radiation: Literal["off", "barrel", "everywhere"] = "off"
    deposit_resistance: Profile | None = None
    conductivity_factor: float = 1.0
    stations: int = 75


@dataclass(frozen=True, slots=True)
class Film:
    """Film of coolant on the hot wall, or a wall layer of another mixture ratio.

    With ``model`` "entrainment" or "slot", exactly one of ``mass_flow`` [kg/s] and
    ``fuel_fraction`` of ``fluid`` flows on top of the core's propellants, from ``injected_at``
    [m] on, None for the injector face; ``temperature`` [K], None for the usual storage.
    ``entrainment`` [-] is the core flow that mixes in over that which passes the same area;
    ``slot_height`` [m]. With "layer mixture ratio" the gas beside the wall burns at
    ``layer_mixture_ratio`` from ``injected_at`` on, and nothing flows on top.
    """

    fluid: FilmFluid
    model: Literal["entrainment", "slot", "layer mixture ratio"] = "entrainment"
    mass_flow: float | None = None
    fuel_fraction: float | None = None
    state: Literal["liquid", "gas"] = "liquid"
    temperature: float | None = None
    injected_at: float | None = None
    entrainment: float = 0.05
    slot_height: float | None = None
    layer_mixture_ratio: Profile | None = None


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits and factors of the checks. None means the built-in value of alloy or fluid."""

    T_wall_hot: float | None = None
    T_wall_cold: float | None = None
    yield_factor: float = 1.25
    ultimate_factor: float = 1.4
    proof_factor: float = 1.2
    burnout_fraction: float | None = None
    burnout_flux: float | None = None
    """Critical heat flux of the coolant's own, in place of a correlation [W/m2]."""
    mach: float = 0.3
    injector_drop_fraction: float = 0.2
    service: Literal["short", "long"] = "short"
    life_factor: float = 4.0
    """As nasa_std_5012 is recalled."""


@dataclass(frozen=True, slots=True)
class Life:
    """Firings the liner must live, and what its life is judged by.

    Without ``firings`` life is reported and never judged. ``firing_duration`` [s] is the time at
    temperature of each. ``ductility`` is the liner's reduction of area in a tensile test at
    temperature [-], in place of that of its table. The four ``fatigue_*`` constants, strength
    [Pa] and the others [-], measured at ``fatigue_temperature`` [K], are the liner's own
    strain-life law; all of them are given or none. ``start_temperature`` is that of the metal
    before ignition [K].
    """

    firings: int | None = None
    firing_duration: float | None = None
    ductility: float | None = None
    fatigue_strength: float | None = None
    fatigue_strength_exponent: float | None = None
    fatigue_ductility: float | None = None
    fatigue_ductility_exponent: float | None = None
    fatigue_temperature: float | None = None
    start_temperature: float = 293.15


@dataclass(frozen=True, slots=True)
class Cutter:
    """A cutter of the shop: a disc saw of a diameter, or an end mill; lengths [m].

    It cuts slots of its width, at most ``depth`` deep, a saw's from its collar to its rim; None
    where that is not given.
    """

    kind: Literal["saw", "end mill"]
    width: float
    depth: float | None = None
    diameter: float | None = None


@dataclass(frozen=True, slots=True)
class Shop:
    """What one slot and one streak may differ from nominal by, and what the shop can cut.

    ``least_land`` [m], ``greatest_aspect`` (depth over width) [-] and ``cutters``, by rising
    width, are limits of the drawing, and bound what sizing may ask for. ``run_out``: through which
    ends of the slots a cutter may leave; at others a disc leaves a ramp.
    """

    width_tolerance: float = 0.03e-3
    depth_tolerance: float = 0.05e-3
    wall_tolerance: float = 0.05e-3
    flow_shortfall: float = 0.10
    streak: float = 0.20
    least_land: float = 0.5e-3
    greatest_aspect: float = 8.0
    cutters: tuple[Cutter, ...] = ()
    run_out: RunOut = "both ends"


@dataclass(frozen=True, slots=True)
class Sizing:
    """What sizing may change, between which bounds [SI], and for what.

    None for a bound means a usual factor on the case's own value. The flow's bounds are shares of
    the fuel if ``flow_by_fuel``. The depth has ``depth_points`` points along x, and changes by at
    most ``depth_slope`` of the length between them. ``margin`` is kept beyond every limit [-].
    """

    free: tuple[Free, ...] = ("count", "width", "depth")
    minimise: Literal["pressure drop", "wall temperature", "mass"] = "pressure drop"
    held_at: Literal["nominal channel", "worst channel", "band edge"] = "worst channel"
    margin: float = 0.0
    count_from: int | None = None
    count_to: int | None = None
    width_from: float | None = None
    width_to: float | None = None
    depth_from: float | None = None
    depth_to: float | None = None
    wall_from: float | None = None
    wall_to: float | None = None
    flow_from: float | None = None
    flow_to: float | None = None
    flow_by_fuel: bool = True
    depth_points: int = 6
    depth_slope: float = 0.1


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

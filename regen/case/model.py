"""The sections and keys of a case file: what each means, its kind of value, its bounds."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

from regen import design
from regen.case.coolant import CoolantName, CoolantTableFile, SaturationFile
from regen.case.counts import CountAlong, SlotCounts
from regen.case.cutters import Cutters
from regen.case.fields import (
    Choice,
    CoolantFlow,
    Flag,
    Flow,
    Number,
    Quantity,
    Text,
    options,
)
from regen.case.fields_along import POSITION, Along, AlongNumber, ContourFile
from regen.case.fields_strength import Heatings, Strengths
from regen.case.materials import MaterialFiles
from regen.case.plating import Plating
from regen.case.section import Section
from regen.case.section import about as _about
from regen.case.section import needed as _needed
from regen.case.sizing import FreeSizes

HOT_COPPER = (
    "it decomposes in hot copper passages and can explode there, so no channel is solved with it"
)
REFUSED_COOLANTS = {
    "hydrogen-peroxide": HOT_COPPER,
    "nitrous-oxide": HOT_COPPER,
    "ammonia": "ammonia attacks copper and copper alloys, and has no property table here",
    "RP-1": (
        "no property data of RP-1 are built in; n-dodecane is the stand-in, and its thermal "
        "conductivity is about 20 % above that of RP-1, so that film coefficients come out about "
        "13 % too high"
    ),
    "isopropanol": "its properties are not built in; bring them, coolant.table",
}
REFUSED_FILMS = {
    "isopropanol": "no equation of state of isopropanol is built in, and a film needs its vapour",
    "oxygen": "a film of oxidizer burns the wall",
    "hydrogen-peroxide": "a film of oxidizer burns the wall",
    "nitrous-oxide": "a film of oxidizer burns the wall",
}
OUTSIDE_TEMPERATURE = Quantity("temperature", "10 K", "1000 K")
WALL_TEMPERATURE = Quantity("temperature", "300 K", "1500 K")
FILM_FLOW = Quantity("mass flow", "1e-6 kg/s", "500 kg/s")
COOLANT_PRESSURE = Quantity("pressure", "0.1 bar", "400 bar")
TOLERANCE = Quantity("length", "0 mm", "1 mm")
BORE = Quantity("length", "1 mm", "500 mm")
TAPS = Number(1, 200, whole=True)
RADIUS_RATIO = Number(0.05, 20.0)
CONTRACTION_RATIO = Number(1.2, 50.0)
AREA_RATIO = Number(1.01, 400.0)
COUNT = CountAlong(Number(4, 2000, whole=True))
SLOT = Along("0.1 mm", "50 mm")
SIZE = Quantity("length", "0.1 mm", "50 mm")
WALL = Quantity("length", "0.05 mm", "20 mm")
JACKET = Quantity("length", "0.05 mm", "50 mm")
SLOTS = Number(4, 2000, whole=True)
LOSS = Number(0.0, 100.0)
MASS_FLOW = Quantity("mass flow", "1e-5 kg/s", "2000 kg/s")


class Propellants(Section):
    """Propellant pair and the state in which each is stored."""

    oxidizer: Annotated[str, Choice(options(design.Propellants, "oxidizer"))] = _needed(
        "Oxidizer burned in the chamber."
    )
    fuel: Annotated[str, Choice(options(design.Propellants, "fuel"))] = _needed(
        "Fuel burned in the chamber."
    )
    mixture_ratio: Annotated[float, Number(0.05, 60.0)] = _needed(
        "Mass flow of oxidizer over mass flow of fuel."
    )
    oxidizer_state: Annotated[str, Choice(options(design.Propellants, "oxidizer_state"))] = _about(
        "State in which the oxidizer is stored."
    )
    fuel_state: Annotated[str, Choice(options(design.Propellants, "fuel_state"))] = _about(
        "State in which the fuel is stored."
    )
    oxidizer_temperature: Annotated[float, OUTSIDE_TEMPERATURE] = _about(
        "Temperature of the stored oxidizer. Without it: the normal boiling point of a cryogen, "
        "298.15 K for the rest."
    )
    fuel_temperature: Annotated[float, OUTSIDE_TEMPERATURE] = _about(
        "Temperature of the stored fuel. Without it: the normal boiling point of a cryogen, "
        "298.15 K for the rest. Not used where the fuel cools the chamber first."
    )
    oxidizer_concentration: Annotated[float, Number(0.5, 1.0)] = _about(
        "Mass fraction of hydrogen peroxide in the oxidizer, the rest water; for "
        "hydrogen-peroxide alone."
    )
    fuel_water: Annotated[float, Number(0.0, 0.5)] = _about(
        "Mass fraction of water in the fuel, which mixture_ratio counts as fuel; for the liquids "
        "ethanol and isopropanol alone."
    )


class Chamber(Section):
    """Chamber pressure, efficiency and chemistry."""

    pressure: Annotated[float, Quantity("pressure", "0.2 MPa", "40 MPa")] = _needed(
        "Chamber pressure, absolute, measured at pressure_at."
    )
    pressure_at: Annotated[str, Choice(options(design.Chamber, "pressure_at"))] = _about(
        "Where the pressure is taken: injector (static at the face) or nozzle (stagnation)."
    )
    combustion_efficiency: Annotated[float, Number(0.3, 1.0)] = _about(
        "Characteristic velocity over the ideal one, no heat returned: the gas is that of so much "
        "less enthalpy. Temperature and flux fall with it, mass flow rises."
    )
    expansion: Annotated[str, Choice(options(design.Chamber, "expansion"))] = _about(
        "Chemistry of the expansion through the nozzle."
    )


class Contour(Section):
    """Hot-gas contour: rules, or points in a file."""

    profile: Annotated[design.ContourProfile, ContourFile(CONTRACTION_RATIO, AREA_RATIO)] = _about(
        "File with the columns x and r in place of all rules; throat at x = 0."
    )
    throat_diameter: Annotated[float, Quantity("length", "2 mm", "2 m")] = _about(
        "Throat diameter; or give thrust."
    )
    thrust: Annotated[float, Quantity("force", "1 N", "20000 kN")] = _about(
        "Thrust at ambient_pressure, from which the throat is sized; or give throat_diameter."
    )
    ambient_pressure: Annotated[float, Quantity("pressure", "0 bar", "10 bar")] = _about(
        "Outside pressure for the thrust; 0 bar is vacuum."
    )
    contraction_ratio: Annotated[float, CONTRACTION_RATIO] = _about(
        "Area of the barrel over area of the throat."
    )
    area_ratio: Annotated[float, AREA_RATIO] = _about(
        "Area of the nozzle exit over area of the throat."
    )
    barrel_length: Annotated[float, Quantity("length", "0 mm", "5 m")] = _about(
        "Length of the cylinder alone; or give characteristic_length."
    )
    characteristic_length: Annotated[float, Quantity("length", "50 mm", "20 m")] = _about(
        "Volume upstream of the throat over throat area; or give barrel_length."
    )
    convergent_half_angle: Annotated[float, Quantity("angle", "5 deg", "80 deg")] = _about(
        "Angle of the convergent cone to the axis."
    )
    barrel_radius_ratio: Annotated[float, RADIUS_RATIO] = _about(
        "Radius of the blend from barrel to cone over throat radius."
    )
    throat_upstream_radius_ratio: Annotated[float, RADIUS_RATIO] = _about(
        "Radius of the contour upstream of the throat over throat radius."
    )
    throat_downstream_radius_ratio: Annotated[float, RADIUS_RATIO] = _about(
        "Radius of the contour downstream of the throat over throat radius."
    )
    nozzle: Annotated[str, Choice(options(design.ContourShape, "nozzle"))] = _about(
        "Shape downstream of the throat arc."
    )
    divergent_half_angle: Annotated[float, Quantity("angle", "1 deg", "45 deg")] = _about(
        "Half-angle of a cone."
    )
    bell_length_fraction: Annotated[float, Number(0.5, 1.2)] = _about(
        "Length of a bell over that of a 15 degree cone with the same throat and exit."
    )
    bell_start_angle: Annotated[float, Quantity("angle", "5 deg", "60 deg")] = _about(
        "Angle of a bell to the axis at its start; a bell needs it."
    )
    bell_exit_angle: Annotated[float, Quantity("angle", "0 deg", "30 deg")] = _about(
        "Angle of a bell to the axis at its exit; a bell needs it."
    )


class Liner(Section):
    """Liner alloy, condition and hot wall."""

    alloy: Annotated[str, Text("the name of an alloy")] = _needed(
        'Alloy of the liner; "regen list alloys" shows the names.'
    )
    condition: Annotated[str, Text("the condition of the alloy")] = _needed(
        "Heat treatment or state of work the strength data hold for; there is no default."
    )
    wall: Annotated[design.Profile, Along("0.05 mm", "20 mm")] = _needed(
        "Thickness of the hot wall, normal to the contour; may vary along x."
    )
    coating: Annotated[design.Profile, Along("0 mm", "2 mm")] = _about(
        "Thickness of a coating on the hot wall; may vary along x. Its conductivity is needed too."
    )
    coating_conductivity: Annotated[
        float, Quantity("conductivity", "0.05 W/(m K)", "500 W/(m K)")
    ] = _about("Conductivity of the coating.")
    process: Annotated[tuple[design.Heating, ...], Heatings()] = _about(
        "Heatings the liner still sees after it came into its condition. Where the condition does "
        "not cover one of them, its strength is unknown until it is given."
    )
    yield_strength: Annotated[design.Allowables, Strengths()] = _about(
        "Yield of the user's own at temperatures, in place of the tabulated one: held below the "
        "first temperature, never extended above the last."
    )
    ultimate_strength: Annotated[design.Allowables, Strengths()] = _about(
        "Tensile strength of the user's own, the same."
    )


class Channels(Section):
    """Slots in the outside of the liner."""

    count: Annotated[SlotCounts, COUNT] = _needed(
        "Number of slots; pairs of x and number where it changes along x, each number from its x "
        "on: there the slots end in a plenum and others begin."
    )
    width: Annotated[design.Profile, SLOT] = _needed("Width at the slot floor; may vary along x.")
    depth: Annotated[design.Profile, SLOT] = _needed(
        "Depth, normal to the contour; may vary along x."
    )
    roughness_Ra: Annotated[float, Quantity("length", "0.01 um", "100 um")] = _about(
        "Arithmetic mean roughness of the slots as a shop measures it; or give "
        "roughness_sand_grain."
    )
    roughness_sand_grain: Annotated[float, Quantity("length", "0.01 um", "500 um")] = _about(
        "Equivalent sand-grain roughness as friction laws use it; or give roughness_Ra."
    )
    cooled_from: Annotated[float, POSITION] = _about(
        "Position where the slots begin; without it at the injector face."
    )
    cooled_to: Annotated[float, POSITION] = _about(
        "Position where the slots end; without it at the nozzle exit."
    )
    cooled_to_area_ratio: Annotated[float, AREA_RATIO] = _about(
        "Area ratio of the nozzle where the slots end; in place of cooled_to."
    )
    passes: Annotated[str, Choice(options(design.Channels, "passes"))] = _about(
        "Way of the coolant: one way, or down and back, where every second slot leads it back to "
        "the end at which it enters."
    )
    turn_loss: Annotated[float, LOSS] = _about(
        "Pressure loss in the turn between down and back, in dynamic pressures before it; two "
        "sharp right angles of about 1.1 each are common practice."
    )


class Circuit(Section):
    """One of several circuits that cool the chamber side by side or one behind the other.

    What it leaves out is taken from [channels] and [coolant].
    """

    cooled_from: Annotated[float, POSITION] = _about("Position where its slots begin.")
    cooled_to: Annotated[float, POSITION] = _about("Position where its slots end.")
    cooled_to_area_ratio: Annotated[float, AREA_RATIO] = _about(
        "Area ratio of the nozzle where its slots end; in place of cooled_to."
    )
    mass_flow: Annotated[float, MASS_FLOW] = _about(
        "Its metered mass flow; for all circuits, and together coolant.mass_flow. Without flows "
        "and shares, the split is found at which all circuits lose the same pressure."
    )
    share: Annotated[float, Number(1e-4, 1.0)] = _about(
        "Its metered share of coolant.mass_flow; for all circuits, and together 1."
    )
    enters_at: Annotated[str, Choice(options(design.Coolant, "enters_at"))] = _about(
        "End of the circuit at which the coolant enters: nozzle (counterflow) or injector."
    )
    count: Annotated[SlotCounts, COUNT] = _about("Its number of slots.")
    width: Annotated[design.Profile, SLOT] = _about("Width of its slots at the floor.")
    depth: Annotated[design.Profile, SLOT] = _about("Depth of its slots.")
    passes: Annotated[str, Choice(options(design.Channels, "passes"))] = _about(
        "Way of its coolant: one way, or down and back."
    )
    turn_loss: Annotated[float, LOSS] = _about(
        "Pressure loss in its turn, in dynamic pressures before it."
    )


class Coolant(Section):
    """Coolant and its feed."""

    table: Annotated[design.CoolantData, CoolantTableFile()] = _about(
        "Property table of a coolant of your own, a text file with units in its header: T, "
        "density, heat_capacity or enthalpy, viscosity, conductivity, and if they are known p and "
        "sound_speed. docs/coolants.md shows the form."
    )
    saturation: Annotated[design.CoolantSaturation, SaturationFile()] = _about(
        "Its saturation, the same way: p, T, latent_heat, vapour_density, surface_tension. Without "
        "it boiling and burnout are not judged."
    )
    critical_pressure: Annotated[float, COOLANT_PRESSURE] = _about(
        "Its critical pressure: needed with saturation; without it, said to stay above it."
    )
    molar_mass: Annotated[float, Quantity("molar mass", "2 g/mol", "1000 g/mol")] = _about(
        "Its molar mass, needed with saturation."
    )
    fluid: Annotated[str, CoolantName(REFUSED_COOLANTS)] = _needed(
        "Fluid in the slots; with a table of your own, its name. Named as the fuel, it burns as it."
    )
    mass_flow: Annotated[Flow, CoolantFlow()] = _needed(
        'Mass flow of all slots together: "fuel", a share of it such as "0.8 fuel", or a value '
        "with unit."
    )
    enters_at: Annotated[str, Choice(options(design.Coolant, "enters_at"))] = _about(
        "End at which the coolant enters: nozzle (counterflow) or injector (co-flow)."
    )
    inlet_temperature: Annotated[float, OUTSIDE_TEMPERATURE] = _needed(
        "Coolant temperature in the inlet manifold."
    )
    inlet_pressure: Annotated[float, COOLANT_PRESSURE] = _about(
        "Pressure in the inlet manifold, absolute; or give outlet_pressure."
    )
    outlet_pressure: Annotated[float, COOLANT_PRESSURE] = _about(
        "Pressure in the outlet manifold, absolute, for which the inlet is solved; or give "
        "inlet_pressure."
    )
    inlet_loss: Annotated[float, LOSS] = _about(
        "Pressure loss from inlet manifold into the slots, in dynamic pressures there: about 0.5 "
        "with a sharp edge, 0.05 to 0.2 well rounded (common practice). It holds for every plenum "
        "on the way too."
    )
    outlet_loss: Annotated[float, LOSS] = _about(
        "Pressure loss from the slots into the outlet manifold, in dynamic pressures there: 1 "
        "where the coolant comes to rest. It holds for every plenum on the way too."
    )
    returns_to_injector: Annotated[bool, Flag()] = _about(
        "True if the coolant burns as the fuel, so that its heat returns to the chamber. Without "
        "it: true where the coolant is the fuel and mass_flow is given by the fuel, else false."
    )
    feeds_injector: Annotated[bool, Flag()] = _about(
        "True if this flow goes to the injector, whose pressure drop is then judged. Without it: "
        "true where mass_flow is given by the fuel or the heat returns; left open for other flows "
        "of a propellant; else false."
    )


class Manifolds(Section):
    """Ring manifolds with radial pipes: how evenly the slots are fed."""

    inlet_bore: Annotated[float, BORE] = _about(
        "Inside diameter of the inlet ring, or of a round one with the same area. Without bores "
        "shop.flow_shortfall stands for the manifolds."
    )
    inlet_taps: Annotated[int, TAPS] = _about("Pipes into the inlet ring, evenly spaced.")
    outlet_bore: Annotated[float, BORE] = _about("Inside diameter of the outlet ring, the same.")
    outlet_taps: Annotated[int, TAPS] = _about("Pipes out of the outlet ring, evenly spaced.")
    outlet_turn: Annotated[float, Quantity("angle", "0 deg", "360 deg")] = _about(
        "Angle around the axis from an inlet pipe to an outlet pipe; needed where both rings are "
        "given."
    )
    recovery: Annotated[float, Number(0.0, 1.0)] = _about(
        "Static recovery of the inlet ring: rise of pressure over fall of dynamic head where slots "
        "draw off its flow; 0.4 to 0.9 is usual (from memory, medium confidence)."
    )


class Closeout(Section):
    """Layers that close the slots."""

    copper: Annotated[float, Quantity("length", "0 mm", "10 mm")] = _about(
        "Thickness of the electroformed copper over the filled slots."
    )
    nickel: Annotated[float, JACKET] = _about(
        "Thickness of the electroformed nickel jacket on the copper."
    )
    route: Annotated[str, Choice(options(design.Closeout, "route"))] = _about(
        "How the jacket is made: electroformed, or of another metal HIP-bonded, brazed or printed."
    )
    jacket: Annotated[float, JACKET] = _about(
        "Thickness of a jacket of another metal, in place of nickel."
    )
    jacket_alloy: Annotated[str, Text("the name of an alloy")] = _about(
        "Metal of the jacket, if it is no electroformed nickel."
    )
    jacket_condition: Annotated[str, Text("the condition of the alloy")] = _about(
        "Condition that the jacket's strength holds for; of nickel, its bath."
    )
    bond_strength: Annotated[float, Quantity("stress", "1 MPa", "1000 MPa")] = _about(
        "Strength of the bond between lands and closeout in tension, from the shop's coupons; "
        "without it 70 MPa (common practice)."
    )
    jacket_process: Annotated[tuple[design.Heating, ...], Heatings()] = _about(
        "Heatings the jacket still sees after it came into its condition."
    )
    jacket_yield_strength: Annotated[design.Allowables, Strengths()] = _about(
        "Yield of the jacket at temperatures, in place of the tabulated one."
    )
    jacket_ultimate_strength: Annotated[design.Allowables, Strengths()] = _about(
        "Tensile strength of the jacket, the same."
    )
    jacket_sulfur: Annotated[str, Choice(options(design.Closeout, "jacket_sulfur"))] = _about(
        "low where the deposit is known to hold less than 10 to 20 ppm of sulfur (no brightener, "
        "no saccharin); then annealed nickel is a floor for its strength up to 473 K."
    )


class Materials(Section):
    """Alloys of the user's own."""

    files: Annotated[tuple[design.MaterialFile, ...], MaterialFiles()] = _about(
        "Files with stanzas of alloys, in the form of docs/alloys.md; the rows of each alloy stand "
        "beside its file."
    )


class Models(Section):
    """Correlations and resolution."""

    basis: Annotated[str, Choice(options(design.Models, "basis"))] = _about(
        "What the nominal gas side is for: design (conservative) or best estimate; or name "
        "gas_side."
    )
    gas_side: Annotated[str, Text("the name of a gas-side correlation")] = _about(
        'Gas-side correlation; "regen list correlations" shows the names. Without it basis chooses.'
    )
    coolant_side: Annotated[str, Text("the name of a coolant-side correlation")] = _about(
        "Coolant-side correlation; without it the rule for fluid and pressure chooses."
    )
    friction: Annotated[str, Text("the name of a friction law")] = _about(
        "Friction law of the slots."
    )
    boiling: Annotated[str, Text("the name of a boiling correlation")] = _about(
        "Boiling correlation; without it the rule for the fluid chooses."
    )
    barrel_factor: Annotated[float, Number(0.1, 3.0)] = _about(
        "Measured over computed heat flux at the same wall temperature, in the barrel of a fired "
        "chamber of the same kind."
    )
    throat_factor: Annotated[float, Number(0.1, 3.0)] = _about("The same at the throat.")
    curvature: Annotated[str, Choice(options(design.Models, "curvature"))] = _about(
        "Bends of the slots: reductions counts where they lower the coolant's film coefficient, "
        "both ways also where they raise it (the throat), off neither. Unless off, the bend's "
        "friction is counted."
    )
    entrance: Annotated[bool, Flag()] = _about(
        "True to credit the slots' entrance with a higher coolant film coefficient, in "
        "correlations that do not know it."
    )
    rough_gain: Annotated[bool, Flag()] = _about(
        "True to credit rough slots with a higher coolant film coefficient. Their pressure drop "
        "is always counted."
    )
    mixing_factor: Annotated[design.Profile, AlongNumber(0.05, 3.0)] = _about(
        "Heat flux over that of a fully mixed gas at the same wall temperature, along x: injector "
        "elements that mix slowly heat the first part of the barrel less. Multiplies the two above."
    )
    freeze_temperature: Annotated[float, Quantity("temperature", "300 K", "6000 K")] = _about(
        "Gas temperature beside the wall below which its composition is frozen: 300 K is "
        "equilibrium all the way, 6000 K the composition of the core. Never above the core's own "
        "temperature."
    )
    radiation: Annotated[str, Choice(options(design.Models, "radiation"))] = _about(
        "Radiation of H2O and CO2: off, barrel (full in the barrel, fading with the area to "
        "nothing at the throat) or everywhere. Uncertain by a factor of two."
    )
    deposit_resistance: Annotated[
        design.Profile, Along("0 m2 K/W", "0.01 m2 K/W", "thermal resistance")
    ] = _about("Thermal resistance of soot or coke on the hot wall; may vary along x.")
    conductivity_factor: Annotated[float, Number(0.3, 1.5)] = _about(
        "Conductivity of the liner over that of its table, as measured on its bar, print or braze."
    )
    stations: Annotated[int, Number(20, 2000, whole=True)] = _about(
        "Number of stations along the cooled length; with circuits or passes, along each."
    )


class Film(Section):
    """Film of coolant along the hot wall, or a wall layer of another mixture ratio."""

    model: Annotated[str, Choice(options(design.Film, "model"))] = _about(
        "How the film mixes with the core: entrainment, slot, or a layer mixture ratio, which "
        "needs no film flow."
    )
    mass_flow: Annotated[Flow, CoolantFlow(FILM_FLOW)] = _about(
        'Mass flow of the film, on top of the propellants: a share of the fuel such as "0.08 '
        'fuel", or a value with unit.'
    )
    fluid: Annotated[str, Choice(options(design.Film, "fluid"), REFUSED_FILMS)] = _about(
        "Fluid of the film; without it the fuel."
    )
    state: Annotated[str, Choice(options(design.Film, "state"))] = _about(
        "State in which the film is injected."
    )
    temperature: Annotated[float, OUTSIDE_TEMPERATURE] = _about(
        "Temperature at which the film is injected. Without it: the normal boiling point of a "
        "liquid cryogen, 298.15 K for the rest."
    )
    injected_at: Annotated[float, POSITION] = _about(
        "Position where the film begins, upstream of the throat; without it the injector face."
    )
    entrainment: Annotated[float, Number(0.002, 1.0)] = _about(
        "Core flow that mixes into the film over that which passes the same area; to be "
        "calibrated by test."
    )
    slot_height: Annotated[float, Quantity("length", "0.02 mm", "20 mm")] = _about(
        "Height of the slot the film comes from; for the model slot."
    )
    layer_mixture_ratio: Annotated[design.Profile, AlongNumber(0.05, 60.0)] = _about(
        "Mixture ratio of the gas beside the wall, for the model layer mixture ratio; may vary "
        "along x."
    )


class Limits(Section):
    """Limits the verdict is judged by."""

    T_wall_hot: Annotated[float, WALL_TEMPERATURE] = _about(
        "Highest hot-wall temperature; without it that of the alloy."
    )
    T_wall_cold: Annotated[float, WALL_TEMPERATURE] = _about(
        "Highest temperature of the slot floor, at its hottest place; without it that of the "
        "coolant."
    )
    yield_factor: Annotated[float, Number(1.0, 10.0)] = _about(
        "Factor of safety on yield under pressure."
    )
    ultimate_factor: Annotated[float, Number(1.0, 10.0)] = _about(
        "Factor of safety on tensile strength, and on the bond of the lands."
    )
    proof_factor: Annotated[float, Number(1.0, 5.0)] = _about(
        "Pressure of the proof test over the highest in operation, before the strength lost by "
        "heat is added."
    )
    burnout_fraction: Annotated[float, Number(0.05, 1.0)] = _about(
        "Highest wetted flux over burnout flux; 0.5 without it (common practice)."
    )
    burnout_flux: Annotated[float, Quantity("heat flux", "0.1 MW/m2", "200 MW/m2")] = _about(
        "Burnout flux of this coolant in these channels, as measured; without it a correlation of "
        "water."
    )
    mach: Annotated[float, Number(0.01, 1.0)] = _about("Highest coolant Mach number.")
    injector_drop_fraction: Annotated[float, Number(0.01, 1.0)] = _about(
        "Least pressure drop left for the injector over chamber pressure."
    )
    service: Annotated[str, Choice(options(design.Limits, "service"))] = _about(
        "Length of service at temperature: short (minutes in all) or long."
    )
    life_factor: Annotated[float, Number(1.0, 100.0)] = _about(
        "Conservative life over the firings asked for, at least; 4 without it (from memory, medium "
        "confidence)."
    )


class Life(Section):
    """Firings that the liner must live, and what its life is judged by."""

    firings: Annotated[int, Number(1, 1_000_000, whole=True)] = _about(
        "Firings that the liner must live; without it life is reported and not judged."
    )
    firing_duration: Annotated[float, Quantity("time", "0.01 s", "1000 h")] = _about(
        "Time at temperature of each firing, for damage by creep."
    )
    ductility: Annotated[float, Number(0.01, 0.99)] = _about(
        "Reduction of area of the liner in a tensile test at temperature, in place of that of its "
        "table: a generic life law needs it, and its ultimate strength."
    )
    fatigue_strength: Annotated[float, Quantity("stress", "10 MPa", "5000 MPa")] = _about(
        "Strain-life law of the liner, from its own tests: fatigue strength coefficient. The law "
        "needs all five keys."
    )
    fatigue_strength_exponent: Annotated[float, Number(-0.3, -0.01)] = _about(
        "Its fatigue strength exponent, usually -0.05 to -0.12."
    )
    fatigue_ductility: Annotated[float, Number(0.001, 10.0)] = _about(
        "Its fatigue ductility coefficient."
    )
    fatigue_ductility_exponent: Annotated[float, Number(-1.2, -0.3)] = _about(
        "Its fatigue ductility exponent, usually -0.5 to -0.7."
    )
    fatigue_temperature: Annotated[float, OUTSIDE_TEMPERATURE] = _about("Temperature of its tests.")
    start_temperature: Annotated[float, OUTSIDE_TEMPERATURE] = _about(
        "Temperature of the metal before ignition."
    )


class Shop(Section):
    """What one slot and one streak of hot gas may differ by: the worst channel."""

    width_tolerance: Annotated[float, TOLERANCE] = _about("A slot may be this much narrower.")
    depth_tolerance: Annotated[float, TOLERANCE] = _about("A slot may be this much shallower.")
    wall_tolerance: Annotated[float, TOLERANCE] = _about("The hot wall may be this much thicker.")
    flow_shortfall: Annotated[float, Number(0.0, 0.9)] = _about(
        "Share of its flow that one slot may lack."
    )
    streak: Annotated[float, Number(0.0, 3.0)] = _about(
        "Share by which the flux under an injector streak may be higher."
    )
    least_land: Annotated[float, Quantity("length", "0.05 mm", "20 mm")] = _about(
        "Thinnest land that the shop cuts: a limit of the drawing, which sizing keeps."
    )
    greatest_aspect: Annotated[float, Number(0.2, 30.0)] = _about(
        "Greatest depth over width that the shop cuts: a limit of the drawing, which sizing keeps."
    )
    cutters: Annotated[tuple[design.Cutter, ...], Cutters()] = _about(
        "Saws and end mills of the shop: kind, width, largest depth of cut, diameter of a saw's "
        "disc. The slots are to have their widths and no more than their depths; sizing takes one "
        "of the widths; the cut floor is that of the cutters."
    )
    run_out: Annotated[str, Choice(options(design.Shop, "run_out"))] = _about(
        "Ends of the slots through which a cutter may leave: both ends, nozzle, injector, neither. "
        "At the others a saw's disc leaves a ramp."
    )


class Sizing(Section):
    """What "regen size" may change, and for what."""

    free: Annotated[tuple[str, ...], FreeSizes()] = _about(
        "Sizes that are free: count, width, depth, wall (the hot wall), flow (of the coolant)."
    )
    minimise: Annotated[str, Choice(options(design.Sizing, "minimise"))] = _about(
        "What is made least: the pressure drop between the manifolds, the peak wall temperature, "
        "or the mass of the cooled length."
    )
    held_at: Annotated[str, Choice(options(design.Sizing, "held_at"))] = _about(
        "Where the limits are to hold: for the nominal channel alone, for the worst channel too, "
        "or for both and the band edge."
    )
    margin: Annotated[float, Number(0.0, 0.9)] = _about(
        "Margin to be kept beyond every limit, over the limit."
    )
    count_from: Annotated[int, SLOTS] = _about("Fewest slots; without it half of the case's.")
    count_to: Annotated[int, SLOTS] = _about("Most slots; without it twice the case's.")
    width_from: Annotated[float, SIZE] = _about(
        "Least width; without it half of the case's narrowest."
    )
    width_to: Annotated[float, SIZE] = _about("Greatest width; without it twice the case's widest.")
    depth_from: Annotated[float, SIZE] = _about(
        "Least depth; without it a third of the case's shallowest."
    )
    depth_to: Annotated[float, SIZE] = _about(
        "Greatest depth; without it twice the case's deepest."
    )
    wall_from: Annotated[float, WALL] = _about(
        "Thinnest hot wall; without it two thirds of the case's thinnest."
    )
    wall_to: Annotated[float, WALL] = _about(
        "Thickest hot wall; without it one and a half of the case's thickest."
    )
    flow_from: Annotated[Flow, CoolantFlow()] = _about(
        "Least coolant flow; without it 0.7 of the case's."
    )
    flow_to: Annotated[Flow, CoolantFlow()] = _about(
        "Greatest coolant flow; without it 1.3 of the case's, and at most all of the fuel."
    )
    depth_points: Annotated[int, Number(1, 12, whole=True)] = _about(
        "Points of the depth along the slots, straight in between; 1 for one depth."
    )
    depth_slope: Annotated[float, Number(0.005, 1.0)] = _about(
        "Greatest change of depth over length that the cutter follows."
    )


class CaseFile(BaseModel):
    """A case of regen: one thrust chamber, cooled by slots in its liner."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, arbitrary_types_allowed=True, defer_build=True
    )

    case: Annotated[int, Number(1, 1, whole=True)] = _needed("Version of this file's form.")
    title: Annotated[str, Text("a title")] = _needed("Title of the case.")
    propellants: Propellants
    chamber: Chamber
    contour: Contour
    materials: Materials = Materials()
    liner: Liner
    channels: Channels
    coolant: Coolant
    manifolds: Manifolds = Manifolds()
    closeout: Closeout = Closeout()
    plating: Plating = Plating()
    models: Models = Models()
    film: Film = Film()
    limits: Limits = Limits()
    life: Life = Life()
    shop: Shop = Shop()
    sizing: Sizing = Sizing()
    circuits: dict[str, Circuit] = Field(
        default={}, description="Circuits by name, if there are several."
    )
    uncertainty: dict[str, str | list[str]] = Field(
        default={},
        description="How keys are spread about their own values, for regen uncertainty: by key "
        'path in quotes, such as "channels.width" = "uniform 0.03 mm", "coolant.mass_flow" = '
        '"normal 3 %", "models.gas_side" = "any" or a list of names.',
    )
    alternatives: dict[str, dict[str, Any]] = Field(
        default={},
        description="The same chamber by other routes, for regen alternatives: each a table with "
        'its route and the keys that differ, by their path in quotes, such as "liner.condition".',
    )


SECTIONS: dict[str, type[Section]] = {
    name: field.annotation
    for name, field in CaseFile.model_fields.items()
    if isinstance(field.annotation, type) and issubclass(field.annotation, Section)
}
REQUIRED_SECTIONS = tuple(name for name in SECTIONS if CaseFile.model_fields[name].is_required())

DEFAULTS: dict[str, type] = {
    "propellants": design.Propellants,
    "chamber": design.Chamber,
    "contour": design.ContourShape,
    "channels": design.Channels,
    "coolant": design.Coolant,
    "manifolds": design.Manifolds,
    "closeout": design.Closeout,
    "plating": design.Plating,
    "models": design.Models,
    "film": design.Film,
    "limits": design.Limits,
    "life": design.Life,
    "shop": design.Shop,
    "sizing": design.Sizing,
}
"""Where the value of a key that is left out comes from."""

NAMED_OTHERWISE = {("closeout", "nickel"): "jacket", ("closeout", "jacket"): ""}
"""Keys whose value is another one's in the design; a jacket of another metal has no default."""

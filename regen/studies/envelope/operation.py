"""One chamber at another operating point: what stays as built, and what follows the chamber."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal, NamedTuple

import numpy as np

from regen.case.build import FLOWS_AS_FUEL
from regen.design import Circuit, ContourProfile, Coolant, Design, Film
from regen.errors import RangeError
from regen.physics import arrays as A
from regen.solver.prepare import prepare
from regen.sources import read_data

Rule = Literal["proportional", "constant"]
Stream = Literal["fuel", "oxidizer", "hot gas"]


class Point(NamedTuple):
    """An operating point [SI]; the coolant's pressure is given at its inlet or at its outlet."""

    chamber_pressure: float
    mixture_ratio: float
    inlet_temperature: float
    inlet_pressure: float | None
    outlet_pressure: float | None


@dataclass(frozen=True, slots=True)
class Following:
    """What follows the chamber: the coolant's pressure, and flows that the case gives as values."""

    pressure: Rule = "proportional"
    flow: Rule = "proportional"


@dataclass(frozen=True, slots=True)
class FlowShare:
    """A flow as a share of a propellant's flow, or of all the hot gas.

    ``of_gas`` is its share of the hot gas [-] at the case's own ``mixture_ratio`` [-].
    """

    of: Stream
    of_gas: float
    mixture_ratio: float

    def of_fuel(self, mixture_ratio: float) -> float:
        """Return the share of the fuel flow [-] at a mixture ratio [-]."""
        whole = self.of_gas * (1.0 + self.mixture_ratio)
        shares: dict[Stream, float] = {
            "fuel": whole,
            "oxidizer": whole * mixture_ratio / self.mixture_ratio,
            "hot gas": self.of_gas * (1.0 + mixture_ratio),
        }
        return shares[self.of]


Shares = Mapping[str, FlowShare]
"""What the flows of "coolant" and "film" follow; one that is not there stays as the case has it."""


def own_point(design: Design) -> Point:
    """Return the case's own operating point."""
    coolant = design.coolant
    feed = coolant.inlet_temperature, coolant.inlet_pressure, coolant.outlet_pressure
    return Point(design.chamber.pressure, design.propellants.mixture_ratio, *feed)


def with_fixed_throat(design: Design) -> Design:
    """Return the design with its throat as built: thrust sizes it once, at the case's own point."""
    shape = design.contour
    if isinstance(shape, ContourProfile) or shape.thrust is None:
        return design
    throat = 2.0 * prepare(design).contour.throat_radius
    return replace(design, contour=replace(shape, thrust=None, throat_diameter=throat))


def stream_of(design: Design, fluid: str) -> Stream:
    """Return which stream a flow of a fluid follows: its own, or that of all the hot gas."""
    pair = design.propellants
    if pair.fuel in (fluid, FLOWS_AS_FUEL.get(fluid)):
        return "fuel"
    return "oxidizer" if fluid == pair.oxidizer else "hot gas"


def shares(design: Design, following: Following, gas_flow: float | None) -> Shares:
    """Return what the flows that a case gives as values follow.

    ``gas_flow`` is the hot-gas flow at the case's own point [kg/s]; None: it was not solved, and
    the flow before any heat returns is taken. Raises ``RangeError`` if flows are to be held and
    the case gives none as a value, or if the hot gas of the case's own point has no solution.
    """
    given = {
        name: (flow.fluid, flow.mass_flow)
        for name, flow in {"coolant": design.coolant, "film": design.film}.items()
        if flow is not None and flow.mass_flow is not None
    }
    if following.flow == "constant":
        if not given:
            message = (
                "--coolant-flow constant: the case gives coolant.mass_flow as a share of the "
                'fuel, which follows the chamber; give it as a value such as "0.48 kg/s" to hold it'
            )
            raise RangeError(message)
        return {}
    if not given:
        return {}
    whole, ratio = gas_flow or _gas_flow(design), design.propellants.mixture_ratio
    return {
        name: FlowShare(stream_of(design, fluid), flow / whole, ratio)
        for name, (fluid, flow) in given.items()
    }


def _gas_flow(design: Design) -> float:
    """Return the hot-gas flow before any heat returns [kg/s]."""
    prepared = prepare(design)
    stagnation = prepared.gas.stagnation[0, 0]
    throat = np.pi * prepared.contour.throat_radius**2
    return float(stagnation[A.S_P0] * throat / stagnation[A.S_CSTAR])


def operated(design: Design, point: Point, follow: Shares) -> Design:
    """Return a design with a throat of its own at an operating point.

    Metered circuits keep their shares of the coolant.
    """
    parts: dict[str, Any] = {
        "coolant": replace(
            design.coolant,
            inlet_temperature=point.inlet_temperature,
            inlet_pressure=point.inlet_pressure,
            outlet_pressure=point.outlet_pressure,
        )
    }
    for name, share in follow.items():
        flow: Any = parts.get(name) or design.film
        fraction = share.of_fuel(point.mixture_ratio)
        parts[name] = replace(flow, mass_flow=None, fuel_fraction=fraction)
    if "coolant" in follow:
        whole = design.coolant.mass_flow
        parts["circuits"] = tuple(_metered(circuit, whole) for circuit in design.circuits)
    return replace(
        design,
        chamber=replace(design.chamber, pressure=point.chamber_pressure),
        propellants=replace(design.propellants, mixture_ratio=point.mixture_ratio),
        **parts,
    )


def _metered(circuit: Circuit, whole: float | None) -> Circuit:
    """Return a circuit with its flow as a share of the coolant's whole [kg/s]."""
    if circuit.mass_flow is None or whole is None:
        return circuit
    return replace(circuit, mass_flow=None, share=circuit.mass_flow / whole)


def rules(design: Design, varied: set[str], following: Following) -> dict[str, str]:
    """Return, by subject, what follows what when the named axes vary."""
    texts = read_data("envelope.toml")["rules"]
    end = "inlet" if design.coolant.inlet_pressure is not None else "outlet"
    pressure = texts[following.pressure].format(end=end)
    if "inlet_pressure" in varied:
        on_line = texts["throttle line"].format(pressure=pressure)
        pressure = texts["axis"] + on_line * ("chamber_pressure" in varied)
    flows: dict[str, Coolant | Film | None] = {"coolant": design.coolant, "film": design.film}
    rules = {"hot gas flow": texts["gas"]}
    for name, flow in flows.items():
        if flow is not None and (flow.mass_flow, flow.fuel_fraction) != (None, None):
            how, places = _flow(design, following, flow)
            rules[f"{name} flow"] = texts[how].format(name=name, **places)
    return rules | {"coolant pressure": pressure}


def _flow(design: Design, following: Following, flow: Coolant | Film) -> tuple[str, dict[str, Any]]:
    """Return which rule a flow follows, and the places of its text."""
    value, share = flow.mass_flow, flow.fuel_fraction
    if value is None:
        return "share", {"share": "all" if share == 1.0 else f"{share:g}"}
    stream = stream_of(design, flow.fluid).replace(" ", "-")
    how = "held" if following.flow == "constant" else "follows"
    return how, {"value": value, "stream": stream}

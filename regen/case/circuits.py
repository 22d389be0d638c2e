"""Circuits of a case: checks across them, and what they make of the design."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from regen import design
from regen.case.counts import SlotCounts
from regen.case.fields import shown
from regen.units import Refusal

SUM_TOLERANCE = 1e-3
"""How far flows or shares may be from their whole [-]: what is written with three digits."""

CHANNEL_KEYS = (
    *("count", "width", "depth", "passes", "turn_loss"),
    *("cooled_from", "cooled_to", "cooled_to_area_ratio"),
)
"""Keys that a circuit has in place of those of [channels]."""


def check_circuits(circuits: Mapping[str, Any], channels: Any, coolant: Any) -> list[Refusal]:
    """Return what is wrong between circuits, slots and coolant.

    Parameters
    ----------
    circuits : mapping
        Checked circuits by name; empty if the case names none.
    channels, coolant : Section or None
        Checked sections, None where one is not sound in itself.

    Returns
    -------
    list of Refusal
        Each with its key path in ``where``.
    """
    wrong: list[Refusal] = []
    for name, circuit in circuits.items():
        wrong += _range(name, circuit)
    if channels is not None:
        wrong += _passes("channels", channels.count, channels.passes)
        for name, circuit in circuits.items():
            if (circuit.count, circuit.passes) != (None, None):
                count, passes = circuit.count or channels.count, circuit.passes or channels.passes
                wrong += _passes(f"circuits.{name}", count, passes)
        wrong += _stray_turns(circuits, channels)
    return wrong + _flows(circuits, coolant)


def _range(name: str, circuit: Any) -> list[Refusal]:
    begin, end, ratio = circuit.cooled_from, circuit.cooled_to, circuit.cooled_to_area_ratio
    if end is not None and ratio is not None:
        what = "cooled_to and cooled_to_area_ratio are both given"
        return [Refusal(what, "at most one of the two", "remove one", f"circuits.{name}")]
    if begin is None or end is None or end > begin:
        return []
    what = f"the circuit ends at or before its cooled_from, {begin * 1e3:g} mm"
    do = "x runs from the injector (negative) to the nozzle exit (positive), throat at 0"
    given = f'"{end * 1e3:g} mm"'
    return [Refusal(what, "above cooled_from", do, f"circuits.{name}.cooled_to", given)]


def _passes(where: str, count: SlotCounts, passes: str | None) -> list[Refusal]:
    if passes != "down and back":
        return []
    if count.changes:
        what = (
            "the slots go down and back and their number changes on the way: in the plenum there "
            "the flows down and back would mix"
        )
        do = "give one number of slots, or make the parts circuits of their own"
        return [Refusal(what, "one number of slots", do, f"{where}.count")]
    if count.count % 2:
        what = "every second slot leads the coolant back, so the number must be even"
        near = f"{count.count - 1} or {count.count + 1}"
        return [Refusal(what, "an even number", f"take {near}", f"{where}.count", f"{count.count}")]
    return []


def _stray_turns(circuits: Mapping[str, Any], channels: Any) -> list[Refusal]:
    """Refuse the loss of a turn where nothing turns."""
    wrong = []
    turning = {name: (c.passes or channels.passes) for name, c in circuits.items()}
    given = [(f"circuits.{n}", c.turn_loss, turning[n]) for n, c in circuits.items()]
    whole = "down and back" if "down and back" in turning.values() else channels.passes
    for where, loss, passes in (("channels", channels.turn_loss, whole), *given):
        if loss is not None and passes != "down and back":
            what = "no slot turns back, so there is no turn to lose pressure in"
            do = 'remove it, or set passes = "down and back"'
            wrong.append(Refusal(what, "", do, f"{where}.turn_loss", f"{loss:g}"))
    return wrong


def _flows(circuits: Mapping[str, Any], coolant: Any) -> list[Refusal]:
    flows = {name: c.mass_flow for name, c in circuits.items() if c.mass_flow is not None}
    shares = {name: c.share for name, c in circuits.items() if c.share is not None}
    both = [name for name in flows if name in shares]
    if both:
        what = "mass_flow and share are both given, and each fixes the other"
        accepted, do = "one of the two, the same for all circuits", "remove one"
        return [Refusal(what, accepted, do, f"circuits.{name}") for name in both]
    if not flows and not shares:
        return []
    if flows and shares:
        what = f"mass_flow is given for {_names(flows)}, and share for {_names(shares)}"
        return [Refusal(what, "one of the two for all circuits", "", "circuits")]
    key, given = ("mass_flow", flows) if flows else ("share", shares)
    missing = [name for name in circuits if name not in given]
    if missing:
        what = f"{key} is given for {_names(given)}, but not for {_names(missing)}"
        accepted = (
            "it for all circuits, or for none: then the split of equal pressure drop is found"
        )
        return [Refusal(what, accepted, "complete it, or remove all", "circuits")]
    return _sums(key, given, coolant) if coolant is not None else []


def _sums(key: str, given: Mapping[str, float], coolant: Any) -> list[Refusal]:
    wrong = []
    total, whole = sum(given.values()), 1.0
    if key == "mass_flow":
        if coolant.mass_flow.fuel_fraction is not None:
            what = "coolant.mass_flow goes by the fuel, whose flow is not known beforehand"
            do = "give each circuit its share, such as 0.25"
            return [Refusal(what, "share for all circuits", do, "circuits.mass_flow")]
        whole = coolant.mass_flow.mass_flow
    if abs(total / whole - 1.0) > SUM_TOLERANCE:
        unit = " kg/s" if key == "mass_flow" else ""
        what = f"the circuits add up to {total:.6g}{unit}, and the coolant's whole is {whole:.6g}"
        parts = ", ".join(f"{name} {value:.6g}" for name, value in given.items())
        do = "change them" + (", or coolant.mass_flow" if key == "mass_flow" else "")
        wrong.append(Refusal(what + unit, "a sum within 0.1 %", do, f"circuits.{key}", parts))
    if coolant.outlet_pressure is not None:
        what = (
            "the flows are metered, so that every circuit loses a pressure of its own, and with "
            "one outlet pressure each would need an inlet pressure of its own"
        )
        do = f"give coolant.inlet_pressure, or remove {key}: then one split is found for all"
        wrong.append(Refusal(what, "coolant.inlet_pressure", do, "coolant.outlet_pressure"))
    return wrong


def _names(names: Mapping[str, Any] | list[str]) -> str:
    return ", ".join(names)


def check_names(given: object) -> list[Refusal]:
    """Return what is wrong with the table of circuits and its names.

    Parameters
    ----------
    given : object
        What the file has for ``circuits``.

    Returns
    -------
    list of Refusal
        Empty if it is a table of tables with plain names.
    """
    accepted = "tables such as [circuits.barrel], their keys below"
    if not isinstance(given, dict):
        return [Refusal("it is not a section", accepted, "", "circuits", shown(given))]
    if not given:
        do = "name one, or remove [circuits]"
        return [Refusal("it holds no circuit", accepted, do, "circuits")]
    wrong = []
    for name, table in given.items():
        plain = name.isascii() and name.replace("-", "").replace("_", "").isalnum()
        if not plain or len(name) > 30:
            what = "it is no plain name"
            form = "up to 30 letters, digits, - or _, such as [circuits.barrel]"
            wrong.append(Refusal(what, form, "rename it", "circuits", shown(name)))
        elif not isinstance(table, dict):
            where = f"circuits.{name}"
            wrong.append(Refusal("it is not a section", accepted, "", where, shown(table)))
    return wrong


def build_circuits(
    circuits: Mapping[str, Any], channels: design.Channels, enters_at: design.End
) -> tuple[design.Circuit, ...]:
    """Return the circuits of the design.

    Parameters
    ----------
    circuits : mapping
        Checked circuits by name, in the order of the case.
    channels : Channels
        What holds for keys that a circuit leaves out.
    enters_at : str
        The same for the end at which the coolant enters.

    Returns
    -------
    tuple of Circuit
        Empty if the case names none.
    """
    return tuple(
        design.Circuit(
            name=name,
            channels=_channels_of(circuit, channels),
            enters_at=circuit.enters_at or enters_at,
            mass_flow=circuit.mass_flow,
            share=circuit.share,
        )
        for name, circuit in circuits.items()
    )


def _channels_of(circuit: Any, channels: design.Channels) -> design.Channels:
    given = {key: getattr(circuit, key) for key in CHANNEL_KEYS}
    given = {key: value for key, value in given.items() if value is not None}
    counts = given.pop("count", None)
    if counts is not None:
        given["count"], given["count_changes"] = counts.count, counts.changes
    if "cooled_to" in given or "cooled_to_area_ratio" in given:
        # each places the same end
        channels = replace(channels, cooled_to=None, cooled_to_area_ratio=None)
    return replace(channels, **given)

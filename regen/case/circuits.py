"""Checks of the coolant's ways: circuits side by side, and the ring manifolds that feed slots."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from regen.case.along import SlotCounts
from regen.case.kinds import missing, no_effect, shown
from regen.units import Refusal, suggestion

SUM_TOLERANCE = 1e-3
"""How far flows or shares may be from their whole [-]: what is written with three digits."""

RINGS = ("inlet", "outlet")


def check_circuits(circuits: Mapping[str, Any], channels: Any, coolant: Any) -> Iterator[Refusal]:
    """Yield what is wrong between circuits by name, slots and coolant; None for unsound ones."""
    for name, circuit in circuits.items():
        if None not in (circuit.cooled_to, circuit.cooled_to_area_ratio):
            yield both_given(f"circuits.{name}", "cooled_to", "cooled_to_area_ratio")
        else:
            yield from check_ends(f"circuits.{name}", "the circuit ends", circuit)
    if channels is not None:
        yield from _passes("channels", channels.count, channels.passes)
        for name, circuit in circuits.items():
            if (circuit.count, circuit.passes) != (None, None):
                count, passes = circuit.count or channels.count, circuit.passes or channels.passes
                yield from _passes(f"circuits.{name}", count, passes)
        yield from _stray_turns(circuits, channels)
    yield from _flows(circuits, coolant)


def both_given(section: str, one: str, other: str) -> Refusal:
    """Return the refusal of two keys that mean the same."""
    what = f"{one} and {other} are both given"
    return Refusal(what, "at most one of the two", "remove one", section)


def check_ends(where: str, subject: str, slots: Any) -> Iterator[Refusal]:
    """Yield what is wrong with the ends of slots, or of a circuit: ``subject`` is which end."""
    begin, end = slots.cooled_from, slots.cooled_to
    if begin is not None and end is not None and end <= begin:
        what = f"{subject} at or before cooled_from, {begin * 1e3:g} mm"
        do = "x runs from the injector (negative) to the nozzle exit (positive), throat at 0"
        yield Refusal(what, "above cooled_from", do, f"{where}.cooled_to")


def _passes(where: str, count: SlotCounts, passes: str | None) -> Iterator[Refusal]:
    if passes != "down and back":
        return
    if count.changes:
        what = (
            "the slots go down and back and their number changes on the way: in the plenum there "
            "the flows down and back would mix"
        )
        do = "give one number of slots, or make the parts circuits of their own"
        yield Refusal(what, "one number of slots", do, f"{where}.count")
    elif count.count % 2:
        what = "every second slot leads the coolant back, so the number must be even"
        do = f"take {count.count - 1} or {count.count + 1}"
        yield Refusal(what, "an even number", do, f"{where}.count")


def _stray_turns(circuits: Mapping[str, Any], channels: Any) -> Iterator[Refusal]:
    """Refuse the loss of a turn where nothing turns."""
    turning = {name: (c.passes or channels.passes) for name, c in circuits.items()}
    given = [(f"circuits.{n}", c.turn_loss, turning[n]) for n, c in circuits.items()]
    whole = "down and back" if "down and back" in turning.values() else channels.passes
    for where, loss, passes in (("channels", channels.turn_loss, whole), *given):
        if loss is not None and passes != "down and back":
            what = "no slot turns back, so no turn loses pressure"
            do = 'remove it, or set passes = "down and back"'
            yield Refusal(what, "", do, f"{where}.turn_loss")


def _flows(circuits: Mapping[str, Any], coolant: Any) -> Iterator[Refusal]:
    flows = {name: c.mass_flow for name, c in circuits.items() if c.mass_flow is not None}
    shares = {name: c.share for name, c in circuits.items() if c.share is not None}
    both = flows.keys() & shares.keys()
    key, given = ("mass_flow", flows) if flows else ("share", shares)
    without = [name for name in circuits if name not in given]
    for name in (name for name in flows if name in both):
        what = "mass_flow and share are both given, and each fixes the other"
        accepted = "one of the two, the same for all circuits"
        yield Refusal(what, accepted, "remove one", f"circuits.{name}")
    if both or not given:
        return
    if flows and shares:
        what = f"mass_flow is given for {', '.join(flows)}, and share for {', '.join(shares)}"
        yield Refusal(what, "one of the two for all circuits", "", "circuits")
    elif without:
        what = f"{key} is given for {', '.join(given)}, but not for {', '.join(without)}"
        accepted = "for all circuits, or for none: then the split is that of equal pressure drop"
        yield Refusal(what, accepted, "complete it, or remove all", "circuits")
    elif coolant is not None:
        yield from _sums(key, given, coolant)


def _sums(key: str, given: Mapping[str, float], coolant: Any) -> Iterator[Refusal]:
    total, whole, unit = sum(given.values()), 1.0, ""
    if key == "mass_flow":
        if coolant.mass_flow.fuel_fraction is not None:
            what = "coolant.mass_flow follows the fuel, whose flow is not known beforehand"
            do = "give each circuit its share, such as 0.25"
            yield Refusal(what, "share for all circuits", do, "circuits.mass_flow")
            return
        whole, unit = coolant.mass_flow.mass_flow, " kg/s"
    if abs(total / whole - 1.0) > SUM_TOLERANCE:
        what = f"the circuits add up to {total:.6g}{unit}, the coolant's total is {whole:.6g}{unit}"
        parts = ", ".join(f"{name} {value:.6g}" for name, value in given.items())
        do = "change them" + (", or coolant.mass_flow" if unit else "")
        yield Refusal(what, "a sum within 0.1 %", do, f"circuits.{key}", parts)
    if coolant.outlet_pressure is not None:
        what = (
            "the flows are metered, so that every circuit loses a pressure of its own, and with "
            "one outlet pressure each would need an inlet pressure of its own"
        )
        do = f"give coolant.inlet_pressure, or remove {key}: then one split is found for all"
        yield Refusal(what, "coolant.inlet_pressure", do, "coolant.outlet_pressure")


def check_names(given: object) -> Iterator[Refusal]:
    """Yield what is wrong with the table of circuits and its names."""
    accepted = "tables such as [circuits.barrel], their keys below"
    if not isinstance(given, dict):
        yield Refusal("not a section", accepted, "", "circuits")
    elif not given:
        yield Refusal("no circuit in it", accepted, "name one, or remove [circuits]", "circuits")
    else:
        for name, table in given.items():
            plain = name.isascii() and name.replace("-", "").replace("_", "").isalnum()
            if not plain or len(name) > 30:
                form = "up to 30 letters, digits, - or _, such as [circuits.barrel]"
                yield Refusal("not a plain name", form, "rename it", "circuits", shown(name))
            elif not isinstance(table, dict):
                yield Refusal("not a section", accepted, "", f"circuits.{name}")


def check_circuit(name: str, circuits: object) -> None:
    """Refuse the name of a circuit that a key path has, where the case has no such circuit."""
    names = tuple(map(str, circuits)) if isinstance(circuits, dict) else ()
    if name not in names:
        accepted = ", ".join(names) or "a case with circuits"
        raise Refusal("the case has no such circuit", accepted, suggestion(name, names))


def check_manifolds(
    manifolds: Any, channels: Any, shop: Any, circuits: Mapping[str, Any]
) -> Iterator[Refusal]:
    """Yield what is wrong between rings, slots and the shop's rule that they replace."""
    if not manifolds:
        return
    yield from _rings(manifolds)
    yield from _fed(manifolds, channels, circuits)
    if shop is not None and shop.flow_shortfall is not None:
        what = "[manifolds] is given, and the shortfall is computed from it"
        do = "remove it, or leave [manifolds] empty"
        yield Refusal(what, "one of the two", do, "shop.flow_shortfall")


def _rings(keys: Mapping[str, Any]) -> Iterator[Refusal]:
    """Refuse half a ring, and keys of a ring that is not there."""
    for ring in RINGS:
        pair = f"{ring}_bore", f"{ring}_taps"
        for one, other in (pair, pair[::-1]):
            if one in keys and other not in keys:
                do = f"add it, or remove {one}"
                yield missing(f"manifolds.{other}", f"{one} is given", do=do)
    given = [ring for ring in RINGS if keys.keys() & {f"{ring}_bore", f"{ring}_taps"}]
    if not given:
        what = f"{' and '.join(keys)} is given without a ring"
        accepted = "inlet_bore with inlet_taps, outlet_bore with outlet_taps, or both"
        yield Refusal(what, accepted, "add a ring, or remove the section", "manifolds")
        return
    if len(given) == 2 and "outlet_turn" not in keys:
        accepted = 'an angle such as "0 deg" (pipes in line) or "90 deg"'
        yield missing("manifolds.outlet_turn", "which slots are starved depends on it", accepted)
    elif len(given) == 1 and "outlet_turn" in keys:
        yield no_effect("manifolds.outlet_turn", "with one ring")
    if "recovery" in keys and "inlet" not in given:
        yield no_effect("manifolds.recovery", "without an inlet ring")


def _fed(keys: Any, channels: Any, circuits: Mapping[str, Any]) -> Iterator[Refusal]:
    """Refuse slots that do not all run from one ring to the other, and more pipes than slots."""
    whole = "slots that all run from the inlet ring to the outlet ring"
    do = "leave [manifolds] out, and give shop.flow_shortfall"
    if circuits:
        what = f"the chamber has {len(circuits)} circuits, and the rings are those of one"
        yield Refusal(what, whole, do, "manifolds")
    elif channels is not None and channels.count.changes:
        what = "the slots change in number, and the plenum there distributes the flow anew"
        yield Refusal(what, whole, do, "manifolds")
    elif channels is not None:
        # of slots that go down and back, every second one begins at the ring
        most = channels.count.count // (2 if channels.passes == "down and back" else 1)
        for key in (f"{ring}_taps" for ring in RINGS if keys.get(f"{ring}_taps", 0) > most):
            what = f"only {most} slots begin or end at the ring"
            yield Refusal(what, "at most one pipe a slot", "", f"manifolds.{key}")

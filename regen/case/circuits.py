"""Checks of the coolant's ways: circuits side by side, and the ring manifolds that feed slots."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from regen.case.along import SlotCounts
from regen.case.kinds import shown
from regen.units import Refusal, refusal, suggestion

SUM_TOLERANCE = 1e-3
"""How far flows or shares may be from their whole [-]: what is written with three digits."""

RINGS = ("inlet", "outlet")


def check_circuits(circuits: Mapping[str, Any], channels: Any, coolant: Any) -> Iterator[Refusal]:
    """Yield what is wrong between circuits by name, slots and coolant; None for unsound ones."""
    for name, circuit in circuits.items():
        if None not in (circuit.cooled_to, circuit.cooled_to_area_ratio):
            one, other = "cooled_to", "cooled_to_area_ratio"
            yield refusal("both are given", f"circuits.{name}", one=one, other=other)
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


def check_ends(where: str, subject: str, slots: Any) -> Iterator[Refusal]:
    """Yield what is wrong with the ends of slots, or of a circuit: ``subject`` is which end."""
    begin, end = slots.cooled_from, slots.cooled_to
    if begin is not None and end is not None and end <= begin:
        yield refusal("ends first", f"{where}.cooled_to", subject=subject, mm=begin * 1e3)


def _passes(where: str, count: SlotCounts, passes: str | None) -> Iterator[Refusal]:
    if passes != "down and back":
        return
    if count.changes:
        yield refusal("changes and turns", f"{where}.count")
    elif count.count % 2:
        yield refusal("odd number", f"{where}.count", less=count.count - 1, more=count.count + 1)


def _stray_turns(circuits: Mapping[str, Any], channels: Any) -> Iterator[Refusal]:
    """Refuse the loss of a turn where nothing turns."""
    turning = {name: (c.passes or channels.passes) for name, c in circuits.items()}
    given = [(f"circuits.{n}", c.turn_loss, turning[n]) for n, c in circuits.items()]
    whole = "down and back" if "down and back" in turning.values() else channels.passes
    for where, loss, passes in (("channels", channels.turn_loss, whole), *given):
        if loss is not None and passes != "down and back":
            yield refusal("nothing turns", f"{where}.turn_loss")


def _flows(circuits: Mapping[str, Any], coolant: Any) -> Iterator[Refusal]:
    flows = {name: c.mass_flow for name, c in circuits.items() if c.mass_flow is not None}
    shares = {name: c.share for name, c in circuits.items() if c.share is not None}
    both = flows.keys() & shares.keys()
    key, given = ("mass_flow", flows) if flows else ("share", shares)
    without = [name for name in circuits if name not in given]
    for name in (name for name in flows if name in both):
        yield refusal("flow and share", f"circuits.{name}")
    if both or not given:
        return
    if flows and shares:
        named = {"flows": ", ".join(flows), "shares": ", ".join(shares)}
        yield refusal("some flows, some shares", "circuits", **named)
    elif without:
        named = {"key": key, "given": ", ".join(given), "without": ", ".join(without)}
        yield refusal("not for all circuits", "circuits", **named)
    elif coolant is not None:
        yield from _sums(key, given, coolant)


def _sums(key: str, given: Mapping[str, float], coolant: Any) -> Iterator[Refusal]:
    total, whole, unit = sum(given.values()), 1.0, ""
    if key == "mass_flow":
        if coolant.mass_flow.fuel_fraction is not None:
            yield refusal("flow follows the fuel", "circuits.mass_flow")
            return
        whole, unit = coolant.mass_flow.mass_flow, " kg/s"
    if abs(total / whole - 1.0) > SUM_TOLERANCE:
        parts = ", ".join(f"{name} {value:.6g}" for name, value in given.items())
        do = "change them" + (", or coolant.mass_flow" if unit else "")
        sums = {"total": total, "whole": whole, "unit": unit, "do": do}
        yield refusal("wrong sum", f"circuits.{key}", parts, **sums)
    if coolant.outlet_pressure is not None:
        yield refusal("metered to one outlet", "coolant.outlet_pressure", key=key)


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
                yield refusal("not a plain name", "circuits", shown(name))
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
        yield refusal("shortfall beside rings", "shop.flow_shortfall")


def _rings(keys: Mapping[str, Any]) -> Iterator[Refusal]:
    """Refuse half a ring, and keys of a ring that is not there."""
    for ring in RINGS:
        pair = f"{ring}_bore", f"{ring}_taps"
        for one, other in (pair, pair[::-1]):
            if one in keys and other not in keys:
                yield refusal("half a ring", f"manifolds.{other}", one=one)
    given = [ring for ring in RINGS if keys.keys() & {f"{ring}_bore", f"{ring}_taps"}]
    if not given:
        yield refusal("no ring", "manifolds", keys=" and ".join(keys))
        return
    if len(given) == 2 and "outlet_turn" not in keys:
        yield refusal("turn of the rings missing", "manifolds.outlet_turn")
    elif len(given) == 1 and "outlet_turn" in keys:
        yield refusal("of two rings", "manifolds.outlet_turn")
    if "recovery" in keys and "inlet" not in given:
        yield refusal("of an inlet ring", "manifolds.recovery")


def _fed(keys: Any, channels: Any, circuits: Mapping[str, Any]) -> Iterator[Refusal]:
    """Refuse slots that do not all run from one ring to the other, and more pipes than slots."""
    if circuits:
        yield refusal("rings of several circuits", "manifolds", count=len(circuits))
    elif channels is not None and channels.count.changes:
        yield refusal("rings and a plenum", "manifolds")
    elif channels is not None:
        # of slots that go down and back, every second one begins at the ring
        most = channels.count.count // (2 if channels.passes == "down and back" else 1)
        for ring in RINGS:
            if keys.get(f"{ring}_taps", 0) > most:
                yield refusal("more pipes than slots", f"manifolds.{ring}_taps", most=most)

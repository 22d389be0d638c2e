"""Ring manifolds of a case: checks across their keys and the slots that they serve."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from regen.units import Refusal

RINGS = ("inlet", "outlet")


def check_manifolds(
    manifolds: Any, channels: Any, shop: Any, circuits: Mapping[str, Any]
) -> list[Refusal]:
    """Return what is wrong between rings, slots and the shop's rule that they replace.

    Parameters
    ----------
    manifolds : Section
        Checked section; without keys it stands for no rings.
    channels, shop : Section or None
        Checked sections, None where one is not sound in itself.
    circuits : mapping
        Checked circuits by name; empty if the case names none.

    Returns
    -------
    list of Refusal
        Each with its key path in ``where``.
    """
    keys = {key: value for key, value in manifolds if value is not None}
    if not keys:
        return []
    wrong = _pairs(keys) + _served(keys, channels, circuits)
    if shop is not None and shop.flow_shortfall is not None:
        what = "[manifolds] is given, and the shortfall is computed from it"
        do = "remove it, or leave [manifolds] empty"
        given = f"{shop.flow_shortfall:g}"
        wrong.append(Refusal(what, "one of the two", do, "shop.flow_shortfall", given))
    return wrong


def _pairs(keys: Mapping[str, Any]) -> list[Refusal]:
    """Refuse half a ring, and keys of a ring that is not there."""
    wrong = []
    for ring in RINGS:
        pair = f"{ring}_bore", f"{ring}_taps"
        for one, other in (pair, pair[::-1]):
            if one in keys and other not in keys:
                what, do = f"it is missing, and {one} is given", f"add it, or remove {one}"
                wrong.append(Refusal(what, "", do, f"manifolds.{other}"))
    given = [ring for ring in RINGS if keys.keys() & {f"{ring}_bore", f"{ring}_taps"}]
    if not given:
        what = f"{' and '.join(keys)} is given without a ring"
        accepted = "inlet_bore with inlet_taps, outlet_bore with outlet_taps, or both"
        do = "add a ring, or remove the section"
        return [Refusal(what, accepted, do, "manifolds")]
    if len(given) == 2 and "outlet_turn" not in keys:
        what = "it is missing: which slots are starved depends on it"
        accepted = 'an angle such as "0 deg" (pipes in line) or "90 deg"'
        wrong.append(Refusal(what, accepted, "add it", "manifolds.outlet_turn"))
    elif len(given) == 1 and "outlet_turn" in keys:
        what = "it has no meaning with one ring"
        wrong.append(Refusal(what, "", "remove it", "manifolds.outlet_turn"))
    if "recovery" in keys and "inlet" not in given:
        what = "it has no meaning without an inlet ring"
        wrong.append(Refusal(what, "", "remove it", "manifolds.recovery"))
    return wrong


def _served(keys: Mapping[str, Any], channels: Any, circuits: Mapping[str, Any]) -> list[Refusal]:
    """Refuse slots that do not all run from one ring to the other, and more pipes than slots."""
    whole = "slots that all run from the inlet ring to the outlet ring"
    do = "leave [manifolds] out, and give shop.flow_shortfall"
    if circuits:
        what = f"the chamber has {len(circuits)} circuits, and the rings are those of one"
        return [Refusal(what, whole, do, "manifolds")]
    if channels is None:
        return []
    if channels.count.changes:
        what = "the slots change in number, and the plenum there shares the flow out anew"
        return [Refusal(what, whole, do, "manifolds")]
    # of slots that go down and back, every second one begins at the ring
    most = channels.count.count // (2 if channels.passes == "down and back" else 1)
    return [
        Refusal(
            f"only {most} slots begin or end at the ring",
            "at most one pipe a slot",
            "",
            f"manifolds.{ring}_taps",
            f"{keys[f'{ring}_taps']}",
        )
        for ring in RINGS
        if keys.get(f"{ring}_taps", 0) > most
    ]

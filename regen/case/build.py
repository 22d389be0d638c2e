"""From the checked sections of a case to the design in SI."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from regen import design
from regen.case.keys import CLASSES, FROM_CHANNELS, MAKES, SAND_GRAIN_PER_RA
from regen.case.kinds import note

FLOWS_AS_FUEL = {"n-dodecane": "RP-1"}
"""Coolants that stand in for a fuel of another name."""

PLAIN = (
    *("propellants", "chamber", "liner", "plating", "models"),
    *("limits", "life", "shop", "sizing"),
)
"""Sections whose keys alone make their part of the design."""


class Given(dict[str, Any]):
    """Checked values in SI of the keys that a section gives; None for one that it leaves out."""

    def __getattr__(self, key: str) -> Any:
        return self.get(key)

    def __missing__(self, key: str) -> None:
        return None


def build_design(title: str, good: Mapping[str, Any], notes: list[str]) -> design.Design:
    """Return the design that checked sections make; ``notes`` takes what the user must know."""
    contour, propellants, manifolds = good["contour"], good["propellants"], good["manifolds"]
    measured = good["channels"].roughness_Ra
    if measured is not None:
        grain, ratio = SAND_GRAIN_PER_RA * measured * 1e6, SAND_GRAIN_PER_RA
        notes.append(note("roughness", Ra=measured * 1e6, grain=grain, ratio=ratio))
    plain = {name: _part(CLASSES[name][0], good[name]) for name in PLAIN}
    channels = _part(design.Channels, good["channels"])
    coolant = _part(
        design.Coolant,
        good["coolant"],
        returns_to_injector=returns(good["coolant"], propellants),
        feeds_injector=feeds_injector(good["coolant"], propellants),
    )
    closeout = good["closeout"]
    # without an electroformed jacket there is no copper
    bare = {} if (closeout.route or "electroformed") == "electroformed" else {"copper": 0.0}
    film = good["film"]
    return design.Design(
        **plain,
        title=title,
        contour=contour.profile or _part(design.ContourShape, contour),
        materials=good["materials"].files or (),
        channels=channels,
        coolant=coolant,
        manifolds=_part(design.Manifolds, manifolds) if manifolds else None,
        closeout=_part(design.Closeout, {**bare, **closeout}),
        film=_part(design.Film, {"fluid": propellants.fuel, **film}) if film else None,
        circuits=tuple(
            _circuit(name, circuit, channels, coolant.enters_at)
            for name, circuit in good.get("circuits", {}).items()
        ),
        notes=tuple(notes),
        uncertainty=tuple(good.get("uncertainty", ())),
    )


def _part(section: type, given: Mapping[str, Any], **others: Any) -> Any:
    """Return a section of the design from the keys that are given; its own defaults fill it."""
    values = {
        field: made
        for key, value in given.items()
        for field, made in (MAKES[key](value) if key in MAKES else {key: value}).items()
    }
    return section(**{**values, **others})


def _circuit(
    name: str, given: Given, channels: design.Channels, enters_at: design.End
) -> design.Circuit:
    """Return a circuit; what it leaves out is that of [channels] and [coolant]."""
    own = {key: given[key] for key in FROM_CHANNELS if key in given and key != "count"}
    if "count" in given:
        own |= MAKES["count"](given.count)
    if "cooled_to" in given or "cooled_to_area_ratio" in given:
        # each places the same end
        own = {"cooled_to": None, "cooled_to_area_ratio": None, **own}
    return design.Circuit(
        name=name,
        channels=replace(channels, **own),
        enters_at=given.enters_at or enters_at,
        mass_flow=given.mass_flow,
        share=given.share,
    )


def returns(coolant: Any, propellants: Any) -> bool:
    """Return whether the coolant's heat comes back with the fuel: as given, or by the rule.

    The rule: where the coolant is the fuel and its flow is a share of the fuel's.
    """
    if coolant.returns_to_injector is not None:
        return bool(coolant.returns_to_injector)
    return coolant.fluid == propellants.fuel and coolant.mass_flow.fuel_fraction is not None


def feeds_injector(coolant: Any, propellants: Any) -> bool | None:
    """Return whether the coolant goes to the injector, None where the case leaves that open.

    Without ``feeds_injector``: true where its heat returns or its flow is a share of the fuel;
    open for any other flow of a propellant, of what stands in for one, or of a coolant of the
    user's own, which may be either.
    """
    if coolant.feeds_injector is not None:
        return bool(coolant.feeds_injector)
    if returns(coolant, propellants) or coolant.mass_flow.fuel_fraction is not None:
        return True
    burns = {propellants.fuel, propellants.oxidizer}
    if coolant.table is not None:
        return None
    return None if {coolant.fluid, FLOWS_AS_FUEL.get(coolant.fluid)} & burns else False


def correlated_as(coolant: Any) -> str:
    """Return the fluid that correlations are chosen for, of a checked section."""
    return design.OWN_FLUID if coolant.table is not None else str(coolant.fluid)

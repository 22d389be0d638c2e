"""Checks of the film section of a case, and the film it makes."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from regen import design
from regen.case.fields import Flow, options, shown
from regen.case.model import REFUSED_FILMS
from regen.units import Refusal

LAYER = "layer mixture ratio"
USUAL = "entrainment"

NEEDED = {
    USUAL: ("mass_flow", 'a share of the fuel such as "0.08 fuel", or a value with unit'),
    "slot": ("mass_flow", 'a share of the fuel such as "0.08 fuel", or a value with unit'),
    LAYER: ("layer_mixture_ratio", "a plain number, or pairs along x"),
}
FLOW_KEYS = ("mass_flow", "fluid", "state", "temperature")
BELONGS: Mapping[str, tuple[str, ...]] = {
    USUAL: ("model", "injected_at", *FLOW_KEYS, "entrainment"),
    "slot": ("model", "injected_at", *FLOW_KEYS, "slot_height"),
    LAYER: ("model", "injected_at", "layer_mixture_ratio"),
}
"""Keys that have a meaning with each model."""


def film_keys(keys: Mapping[str, Any]) -> list[Refusal]:
    """Return what is wrong with the choice of keys of the film, whatever their values.

    Parameters
    ----------
    keys : mapping
        The section as it stands in the file.

    Returns
    -------
    list of Refusal
        Each with its key path in ``where``.
    """
    model = keys.get("model", USUAL)
    if not isinstance(model, str) or model not in BELONGS:
        return []  # refused where its value is checked
    wrong = []
    needed = [NEEDED[model]]
    if model == "slot":
        needed.append(("slot_height", 'a length such as "0.5 mm"'))
    for key, accepted in needed:
        if key not in keys:
            what = f'it is missing, and the film model "{model}" needs it'
            wrong.append(Refusal(what, accepted, "add it", f"film.{key}"))
    if model == "slot" and keys.get("state") != "gas":
        what = "the slot correlation is for a gas, and a film is a liquid unless it is said"
        do = 'add it, or take the model "entrainment"'
        wrong.append(Refusal(what, 'state = "gas"', do, "film.state"))
    for key in keys:
        if key in BELONGS[model] or not any(key in names for names in BELONGS.values()):
            continue
        homes = " or ".join(f'"{name}"' for name, names in BELONGS.items() if key in names)
        what = f'it has no meaning with the film model "{model}"'
        do = f"remove it, or set film.model = {homes}"
        wrong.append(Refusal(what, "", do, f"film.{key}", shown(keys[key])))
    return wrong


def film_values(film: Any, propellants: Any) -> list[Refusal]:
    """Return what is wrong between the film and the propellants.

    Parameters
    ----------
    film, propellants : Section
        Checked sections [-].

    Returns
    -------
    list of Refusal
        Each with its key path in ``where``.
    """
    if film.mass_flow is None:
        return []
    fluid = film.fluid or propellants.fuel
    wrong = []
    if film.mass_flow.fuel_fraction is not None and fluid != propellants.fuel:
        what = f"the film is {fluid} and the fuel {propellants.fuel}, so its flow is no share of it"
        accepted = 'a mass flow with its unit such as "0.03 kg/s"'
        wrong.append(Refusal(what, accepted, "", "film.mass_flow", "a share of the fuel"))
    if fluid in REFUSED_FILMS:  # the fuel, where none is named
        names = ", ".join(f'"{name}"' for name in options(design.Film, "fluid"))
        do = "name another fluid"
        return [*wrong, Refusal(REFUSED_FILMS[fluid], f"one of {names}", do, "film.fluid")]
    return wrong + _state(fluid, film.state or "liquid", film.temperature)


def _state(fluid: str, state: str, T: float | None) -> list[Refusal]:
    from regen.gas import feeds as feed

    if state == "gas":
        if feed.species_of(fluid).gas:
            return []
        what = f"{fluid} is injected as a liquid only"
        return [Refusal(what, '"liquid"', "remove it", "film.state", '"gas"')]
    if T is None:
        return []
    low, high = feed.liquid_range(fluid)
    if low <= T < high:
        return []
    what = f"{fluid} is no liquid at {T:.5g} K"
    accepted = f"from {low:.5g} K to below {high:.5g} K"
    do = 'change it, or set film.state = "gas"' if feed.species_of(fluid).gas else "change it"
    return [Refusal(what, accepted, do, "film.temperature", f'"{T:.5g} K"')]


def build_film(given: dict[str, Any], propellants: Any) -> design.Film | None:
    """Return the film that a checked section makes, or None without the section.

    Parameters
    ----------
    given : dict
        Keys that are given, with their checked values.
    propellants : Section
        Checked section; its fuel is the film's fluid if none is named.

    Returns
    -------
    Film or None
        In SI.
    """
    if not given:
        return None
    flow: Flow = given.pop("mass_flow", Flow())
    given = {"fluid": propellants.fuel, **given}
    return design.Film(mass_flow=flow.mass_flow, fuel_fraction=flow.fuel_fraction, **given)

"""Checks across the keys of a case: which go together, and values that contradict each other."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, get_args

from regen import design
from regen.case.build import FLOWS_AS_FUEL, correlated_as, returns
from regen.case.circuits import check_circuits, check_ends, check_manifolds
from regen.case.coolant import CAUTIONS, REFUSED_FILMS, check_own_coolant
from regen.case.keys import ROLES, check_correlation
from regen.case.kinds import Flow, note, quoted, shown
from regen.case.materials import check_metals
from regen.units import Refusal, Wrong, refusal

Raw = Mapping[str, Mapping[str, Any]]
Good = Mapping[str, Any]

EITHER_OR = (
    ("contour", "throat_diameter", "thrust"),
    ("contour", "barrel_length", "characteristic_length"),
    ("channels", "roughness_Ra", "roughness_sand_grain"),
    ("coolant", "inlet_pressure", "outlet_pressure"),
)
AT_MOST_ONE = (
    ("channels", "cooled_to", "cooled_to_area_ratio"),
    ("models", "basis", "gas_side"),
)
ALL_OR_NONE = (
    ("liner", "coating", "coating_conductivity"),
    (
        *("life", "fatigue_strength", "fatigue_strength_exponent"),
        *("fatigue_ductility", "fatigue_ductility_exponent", "fatigue_temperature"),
    ),
)
"""Keys that are given together: a resistance, and a strain-life law."""

OTHER_ROUTES = [route for route in get_args(design.Route) if route != "electroformed"]
ENTRAINMENT, SLOT, LAYER = "entrainment", "slot", "layer mixture ratio"
_FLOW = ("mass_flow", 'a share of the fuel such as "0.08 fuel", or a value with unit')
FILM_NEEDS = {
    ENTRAINMENT: (_FLOW,),
    SLOT: (_FLOW, ("slot_height", 'a length such as "0.5 mm"')),
    LAYER: (("layer_mixture_ratio", "a plain number, or pairs along x"),),
}
_FLOW_KEYS = ("model", "injected_at", "mass_flow", "fluid", "state", "temperature")
FILM_KEYS: Mapping[str, tuple[str, ...]] = {
    ENTRAINMENT: (*_FLOW_KEYS, "entrainment"),
    SLOT: (*_FLOW_KEYS, "slot_height"),
    LAYER: ("model", "injected_at", "layer_mixture_ratio"),
}
"""Keys that have a meaning with each model of the film."""


def check_keys(raw: Raw) -> Iterator[Refusal]:
    """Yield what is wrong with the choice of keys of the sections in the file."""
    by_points = "profile" in raw.get("contour", {})
    for section, one, other in EITHER_OR:
        keys = raw.get(section)
        if keys is None or (section == "contour" and by_points):
            continue
        if one in keys and other in keys:
            yield refusal("each fixes the other", section, one=one, other=other)
        elif one not in keys and other not in keys:
            yield refusal("neither is given", section, one=one, other=other)
    for section, one, other in AT_MOST_ONE:
        if {one, other} <= raw.get(section, {}).keys():
            yield refusal("both are given", section, one=one, other=other)
    for section, *together in ALL_OR_NONE:
        absent = [key for key in together if key not in raw.get(section, {})]
        if 0 < len(absent) < len(together):
            given = next(key for key in together if key not in absent)
            yield refusal("not all are given", f"{section}.{given}", absent=", ".join(absent))
    checks = {"contour": _contour_keys, "closeout": _closeout_keys, "film": _film_keys}
    for section, check in checks.items():
        if section in raw:
            yield from check(raw[section])


def _contour_keys(keys: Mapping[str, Any]) -> Iterator[Refusal]:
    if "profile" in keys:
        if rules := [key for key in keys if key != "profile"]:
            yield refusal("profile and rules", "contour.profile", rules=", ".join(rules))
        return
    for key in ("contraction_ratio", "area_ratio"):
        if key not in keys:
            yield refusal("contour ratio missing", f"contour.{key}")
    shape = "bell" if keys.get("nozzle") == "bell" else "cone"
    if shape == "bell":
        for key in ("bell_start_angle", "bell_exit_angle"):
            if key not in keys:
                yield refusal("bell angle missing", f"contour.{key}")
    others = "divergent_half_angle" if shape == "bell" else "bell_"
    for key in (key for key in keys if key.startswith(others)):
        yield refusal("of another nozzle", f"contour.{key}", shape=shape)


def _closeout_keys(keys: Mapping[str, Any]) -> Iterator[Refusal]:
    alloy, route = keys.get("jacket_alloy", design.NICKEL), keys.get("route", "electroformed")
    if alloy == design.NICKEL:
        if "jacket" in keys:
            yield refusal("jacket without a metal", "closeout.jacket")
        if route != "electroformed":
            yield refusal("nickel by another route", "closeout.route")
        return
    if "nickel" in keys:
        yield refusal("nickel beside a jacket", "closeout.nickel", alloy=alloy)
    for name in ("jacket", "jacket_condition"):
        if name not in keys:
            yield refusal("jacket key missing", f"closeout.{name}", alloy=alloy)
    if route == "electroformed":
        routes = quoted(OTHER_ROUTES)
        yield refusal("electroformed jacket", "closeout.route", alloy=alloy, routes=routes)


def _film_keys(keys: Mapping[str, Any]) -> Iterator[Refusal]:
    model = keys.get("model", ENTRAINMENT)
    if not isinstance(model, str) or model not in FILM_KEYS:
        return  # refused where its value is checked
    for key, accepted in FILM_NEEDS[model]:
        if key not in keys:
            yield refusal("film key missing", f"film.{key}", model=model, accepted=accepted)
    if model == SLOT and keys.get("state") != "gas":
        yield refusal("liquid from a slot", "film.state")
    for key in keys:
        models = " or ".join(f'"{name}"' for name, known in FILM_KEYS.items() if key in known)
        if models and key not in FILM_KEYS[model]:
            yield refusal("of another film", f"film.{key}", model=model, models=models)


def check_values(good: Good, notes: list[str]) -> list[Refusal]:
    """Return what is wrong between values of sections that are sound in themselves.

    ``notes`` takes what the user must know although nothing is wrong.
    """
    wrong: list[Refusal] = []
    propellants, coolant = good.get("propellants"), good.get("coolant")
    channels, contour, shop = good.get("channels"), good.get("contour"), good.get("shop")
    circuits, film = good.get("circuits", {}), good.get("film")
    if propellants is not None:
        wrong += _propellants(propellants)
    if contour and contour.ambient_pressure is not None and contour.throat_diameter is not None:
        notes.append(note("ambient pressure unused"))
    if "manifolds" in good:
        wrong += check_manifolds(good["manifolds"], channels, shop, circuits)
    if channels is not None:
        wrong += _channels(channels, contour)
        wrong += _tolerances(channels, shop, "channels")
    wrong += check_metals(good, notes)
    if coolant is not None:
        wrong += check_own_coolant(coolant, notes)
    if coolant is not None and propellants is not None:
        wrong += _coolant(coolant, propellants)
        notes += _coolant_notes(coolant, propellants)
    wrong += check_circuits(circuits, channels, coolant)
    for name, circuit in circuits.items():
        wrong += _tolerances(circuit, shop, f"circuits.{name}")
    if "models" in good:
        wrong += _models(good["models"], coolant, notes)
    if "sizing" in good:
        wrong += _sizing(good["sizing"])
    if film and propellants is not None:
        wrong += _film(film, propellants)
        fluid, water = film.fluid or propellants.fuel, propellants.fuel_water
        if water and film.mass_flow is not None and fluid == propellants.fuel:
            notes.append(note("film without water", water=water, fluid=fluid))
    if "chamber" in good and good["chamber"].pressure_at is None:
        notes.append(note("pressure at the injector"))
    return wrong


def _propellants(propellants: Any) -> Iterator[Refusal]:
    for role in ("oxidizer", "fuel"):
        name, prefix = propellants[role], f"propellants.{role}_"
        state, T = propellants[f"{role}_state"], propellants[f"{role}_temperature"]
        if state == "gas" or T is not None:
            yield from _liquid(name, state, T, prefix, "stored", f"store the {role} as a gas")
    oxidizer, fuel = propellants.oxidizer, propellants.fuel
    if propellants.oxidizer_concentration is not None and oxidizer != "hydrogen-peroxide":
        yield refusal("not peroxide", "propellants.oxidizer_concentration", oxidizer=oxidizer)
    if propellants.fuel_water:
        from regen.gas import feeds

        gas = propellants.fuel_state == "gas"
        if gas or fuel not in feeds.ALCOHOLS:
            fuel += " stored as a gas" if gas else ""
            liquids = " and ".join(feeds.ALCOHOLS)
            yield refusal("no water in it", "propellants.fuel_water", fuel=fuel, liquids=liquids)


def _liquid(
    name: str, state: str | None, T: float | None, prefix: str, verb: str, as_gas: str
) -> Iterator[Refusal]:
    """Refuse a gas of what is a liquid only, and a liquid outside its liquid range."""
    from regen.gas import feeds

    gas = feeds.species_of(name).gas
    if state == "gas":
        if not gas:
            yield refusal("a liquid only", f"{prefix}state", name=name, verb=verb)
        return
    low, high = feeds.liquid_range(name)
    if T is not None and not low <= T < high:
        do = f"change it, or {as_gas}" if gas else "change it"
        where = f"{prefix}temperature"
        yield refusal("not liquid", where, name=name, T=T, low=low, high=high, do=do)


def _film(film: Any, propellants: Any) -> Iterator[Refusal]:
    if film.mass_flow is None:
        return
    fluid, fuel = film.fluid or propellants.fuel, propellants.fuel
    if film.mass_flow.fuel_fraction is not None and fluid != fuel:
        yield refusal("film is not the fuel", "film.mass_flow", fluid=fluid, fuel=fuel)
    if fluid in REFUSED_FILMS:  # the fuel, where none is named
        accepted = f"one of {quoted(get_args(design.FilmFluid))}"
        yield Refusal(REFUSED_FILMS[fluid], accepted, "name another fluid", "film.fluid")
        return
    as_gas = 'set film.state = "gas"'
    yield from _liquid(fluid, film.state, film.temperature, "film.", "injected", as_gas)


def _channels(channels: Any, contour: Any) -> Iterator[Refusal]:
    yield from check_ends("channels", "the slots end", channels)
    ratio, exit_ratio = channels.cooled_to_area_ratio, getattr(contour, "area_ratio", None)
    if ratio is not None and exit_ratio is not None and ratio > exit_ratio:
        yield refusal("beyond the nozzle", "channels.cooled_to_area_ratio", ratio=exit_ratio)


def _tolerances(slots: Any, shop: Any, section: str) -> Iterator[Refusal]:
    for name in ("width", "depth"):
        tolerance, size = getattr(shop, f"{name}_tolerance", None), getattr(slots, name)
        if tolerance is not None and size is not None and tolerance >= min(size.value):
            where, mm = f"shop.{name}_tolerance", min(size.value) * 1e3
            yield refusal("tolerance", where, name=name, mm=mm, section=section)


def _coolant(coolant: Any, propellants: Any) -> Iterator[Refusal]:
    fluid, fuel = coolant.fluid, propellants.fuel
    by_fuel = coolant.mass_flow.fuel_fraction is not None
    if by_fuel and fuel not in (fluid, FLOWS_AS_FUEL.get(fluid)):
        yield refusal("coolant is not the fuel", "coolant.mass_flow", fluid=fluid, fuel=fuel)
    if coolant.returns_to_injector and fluid != fuel:
        yield refusal(
            "returns and is no fuel", "coolant.returns_to_injector", fluid=fluid, fuel=fuel
        )
    if coolant.feeds_injector is False and returns(coolant, propellants):
        yield refusal("returns and feeds not", "coolant.feeds_injector")


def _coolant_notes(coolant: Any, propellants: Any) -> Iterator[str]:
    fluid, fuel, water = coolant.fluid, propellants.fuel, propellants.fuel_water
    by_fuel = coolant.mass_flow.fuel_fraction is not None
    if fluid == fuel and not by_fuel and coolant.returns_to_injector is None:
        yield note("heat taken as lost", fuel=fuel)
    if fluid == fuel and water and coolant.table is None:
        yield note("coolant without water", water=water, fluid=fluid)
    if fluid in CAUTIONS and coolant.table is None and FLOWS_AS_FUEL.get(fluid, fuel) == fuel:
        yield CAUTIONS[fluid]
    if returns(coolant, propellants) and propellants.fuel_temperature is not None:
        yield note("fuel temperature unused")


def _models(models: Any, coolant: Any, notes: list[str]) -> Wrong:
    """Return what is wrong with the correlations chosen; note one that is too general."""
    wrong, usual = Wrong(), design.Models()
    chosen = {role: models[role] for role in ROLES if models[role]}
    fluid = "" if coolant is None else correlated_as(coolant)
    for role, name in chosen.items():
        if name == getattr(usual, role):
            continue
        with wrong.gather(f"models.{role}"):
            check_correlation(role, name, fluid)
            if fluid == "hydrogen" and role in ("coolant_side", "boiling"):
                notes += _general(role, name, fluid)
    return wrong


def _general(role: str, name: str, fluid: str) -> Iterator[str]:
    from regen.physics.registry import of_role

    own = [c.name for c in of_role(role) if c.fits(fluid) and c.fluids]
    if own and name not in own:
        yield note("general form", role=role, name=shown(name), own=", ".join(own))


def _sizing(sizing: Any) -> Iterator[Refusal]:
    free = sizing.free or design.Sizing().free
    for name in get_args(design.Free):
        low, high = sizing[f"{name}_from"], sizing[f"{name}_to"]
        where = f"sizing.{name}_to"
        given = [key for key in (f"{name}_from", f"{name}_to") if sizing[key] is not None]
        if given and name not in free:
            yield refusal("not free", f"sizing.{given[0]}", name=name)
        if len(given) < 2 or name not in free:
            continue
        if isinstance(low, Flow):
            if (low.mass_flow is None) != (high.mass_flow is None):
                yield refusal("bounds of two kinds", where, name=name)
                continue
            low, high = (v.mass_flow or v.fuel_fraction for v in (low, high))
        if not low < high:
            yield Refusal(f"not above sizing.{name}_from", "a greater value", "", where)

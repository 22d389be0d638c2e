"""Checks across the keys of a case: which go together, and values that contradict each other."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, get_args

from regen import design
from regen.case.build import FLOWS_AS_FUEL, correlated_as, returns
from regen.case.circuits import both_given, check_circuits, check_ends, check_manifolds
from regen.case.coolant import CAUTIONS, REFUSED_FILMS, check_own_coolant
from regen.case.keys import ROLES
from regen.case.kinds import Flow, missing, no_effect, quoted, shown
from regen.case.materials import check_metals
from regen.units import Refusal, suggestion

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
            what = f"{one} and {other} are both given, and each fixes the other"
            yield Refusal(what, "one of the two", "remove one", section)
        elif one not in keys and other not in keys:
            what = f"neither {one} nor {other} is given"
            yield Refusal(what, "one of the two", "add one", section)
    for section, one, other in AT_MOST_ONE:
        if {one, other} <= raw.get(section, {}).keys():
            yield both_given(section, one, other)
    for section, *together in ALL_OR_NONE:
        absent = [key for key in together if key not in raw.get(section, {})]
        if 0 < len(absent) < len(together):
            given = next(key for key in together if key not in absent)
            what = f"it needs {', '.join(absent)} too"
            yield Refusal(what, "all or none", "add the rest", f"{section}.{given}")
    checks = {"contour": _contour_keys, "closeout": _closeout_keys, "film": _film_keys}
    for section, check in checks.items():
        if section in raw:
            yield from check(raw[section])


def _contour_keys(keys: Mapping[str, Any]) -> Iterator[Refusal]:
    if "profile" in keys:
        if rules := [key for key in keys if key != "profile"]:
            what = f"it replaces the rules, and {', '.join(rules)} is given too"
            yield Refusal(what, "", "remove one or the other", "contour.profile")
        return
    for key in ("contraction_ratio", "area_ratio"):
        if key not in keys:
            do = "add it, or give the contour by points with profile"
            yield Refusal("missing", "a plain number above 1", do, f"contour.{key}")
    shape = keys.get("nozzle", "cone")
    if shape == "bell":
        for key in ("bell_start_angle", "bell_exit_angle"):
            if key not in keys:
                accepted, do = 'an angle such as "30 deg"', "add it from your nozzle's design chart"
                yield missing(f"contour.{key}", "a bell needs it", accepted, do)
    others = "divergent_half_angle" if shape == "bell" else "bell_"
    for key in (key for key in keys if key.startswith(others)):
        why = f'with a nozzle of shape "{"bell" if shape == "bell" else "cone"}"'
        yield no_effect(f"contour.{key}", why, do="remove it, or change contour.nozzle")


def _closeout_keys(keys: Mapping[str, Any]) -> Iterator[Refusal]:
    alloy, route = keys.get("jacket_alloy", design.NICKEL), keys.get("route", "electroformed")
    if alloy == design.NICKEL:
        if "jacket" in keys:
            what = "only for a jacket of another metal, and none is named"
            do = "give closeout.nickel, or name the metal in closeout.jacket_alloy"
            yield Refusal(what, "", do, "closeout.jacket")
        if route != "electroformed":
            what = "nickel is electroformed here, and no other metal is named"
            do = "name the metal in closeout.jacket_alloy, with its condition and thickness"
            yield Refusal(what, '"electroformed"', do, "closeout.route")
        return
    if "nickel" in keys:
        do = "give its thickness as closeout.jacket"
        yield Refusal(f"the jacket is of {alloy}", "", do, "closeout.nickel")
    for name in ("jacket", "jacket_condition"):
        if name not in keys:
            yield missing(f"closeout.{name}", f"a jacket of {alloy} needs it")
    if route == "electroformed":
        what, accepted = f"a jacket of {alloy} is not electroformed", quoted(OTHER_ROUTES)
        yield Refusal(what, accepted, "say how it is made", "closeout.route")


def _film_keys(keys: Mapping[str, Any]) -> Iterator[Refusal]:
    model = keys.get("model", ENTRAINMENT)
    if not isinstance(model, str) or model not in FILM_KEYS:
        return  # refused where its value is checked
    for key, accepted in FILM_NEEDS[model]:
        if key not in keys:
            yield missing(f"film.{key}", f'the film model "{model}" needs it', accepted)
    if model == SLOT and keys.get("state") != "gas":
        what = "the slot correlation is for a gas, and a film is a liquid by default"
        do = 'add it, or take the model "entrainment"'
        yield Refusal(what, 'state = "gas"', do, "film.state")
    for key in keys:
        models = " or ".join(f'"{name}"' for name, known in FILM_KEYS.items() if key in known)
        if models and key not in FILM_KEYS[model]:
            do = f"remove it, or set film.model = {models}"
            yield no_effect(f"film.{key}", f'with the film model "{model}"', do=do)


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
        notes.append(
            "contour.ambient_pressure has no effect: it sizes the throat for contour.thrust, and "
            "contour.throat_diameter is given"
        )
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
        fluid = film.fluid or propellants.fuel
        if propellants.fuel_water and film.mass_flow is not None and fluid == propellants.fuel:
            notes.append(
                f"the fuel holds {propellants.fuel_water:.3g} of water, and the film is taken as "
                f"pure {fluid}: with water it takes up more heat before it is dry"
            )
    if "chamber" in good and good["chamber"].pressure_at is None:
        notes.append(
            "chamber.pressure_at is not given: the pressure is taken as static at the injector face"
        )
    return wrong


def _propellants(propellants: Any) -> Iterator[Refusal]:
    for role in ("oxidizer", "fuel"):
        name, prefix = propellants[role], f"propellants.{role}_"
        state, T = propellants[f"{role}_state"], propellants[f"{role}_temperature"]
        if state == "gas" or T is not None:
            yield from _liquid(name, state, T, prefix, "stored", f"store the {role} as a gas")
    oxidizer, fuel = propellants.oxidizer, propellants.fuel
    if propellants.oxidizer_concentration is not None and oxidizer != "hydrogen-peroxide":
        key = "propellants.oxidizer_concentration"
        yield no_effect(key, f"with {oxidizer}", "only with hydrogen-peroxide")
    if propellants.fuel_water:
        from regen.gas import feeds

        gas = propellants.fuel_state == "gas"
        if gas or fuel not in feeds.ALCOHOLS:
            why = f"with {fuel}{' stored as a gas' if gas else ''}"
            accepted = f"only with the liquids {' and '.join(feeds.ALCOHOLS)}"
            yield no_effect("propellants.fuel_water", why, accepted)


def _liquid(
    name: str, state: str | None, T: float | None, prefix: str, verb: str, as_gas: str
) -> Iterator[Refusal]:
    """Refuse a gas of what is a liquid only, and a liquid outside its liquid range."""
    from regen.gas import feeds

    gas = feeds.species_of(name).gas
    if state == "gas":
        if not gas:
            what = f"{name} is {verb} as a liquid only"
            yield Refusal(what, '"liquid"', "remove it", f"{prefix}state")
        return
    low, high = feeds.liquid_range(name)
    if T is not None and not low <= T < high:
        accepted = f"from {low:.5g} K to below {high:.5g} K"
        do = f"change it, or {as_gas}" if gas else "change it"
        yield Refusal(f"{name} is not liquid at {T:.5g} K", accepted, do, f"{prefix}temperature")


def _film(film: Any, propellants: Any) -> Iterator[Refusal]:
    if film.mass_flow is None:
        return
    fluid = film.fluid or propellants.fuel
    if film.mass_flow.fuel_fraction is not None and fluid != propellants.fuel:
        what = f"the film is {fluid} and the fuel {propellants.fuel}, so its flow is no share of it"
        accepted = 'a mass flow with its unit such as "0.03 kg/s"'
        yield Refusal(what, accepted, "", "film.mass_flow")
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
        what, key = f"the nozzle ends at area ratio {exit_ratio:g}", "channels.cooled_to_area_ratio"
        yield Refusal(what, "at most contour.area_ratio", "lower it, or leave it out", key)


def _tolerances(slots: Any, shop: Any, section: str) -> Iterator[Refusal]:
    for name in ("width", "depth"):
        tolerance, size = getattr(shop, f"{name}_tolerance", None), getattr(slots, name)
        if tolerance is not None and size is not None and tolerance >= min(size.value):
            what = f"tolerance >= smallest slot {name}, {min(size.value) * 1e3:g} mm"
            accepted = f"less than {section}.{name}"
            yield Refusal(what, accepted, "", f"shop.{name}_tolerance")


def _coolant(coolant: Any, propellants: Any) -> Iterator[Refusal]:
    fluid, fuel = coolant.fluid, propellants.fuel
    by_fuel = coolant.mass_flow.fuel_fraction is not None
    if by_fuel and fuel not in (fluid, FLOWS_AS_FUEL.get(fluid)):
        what = f"the coolant is {fluid} and the fuel {fuel}, so its flow is not the fuel's"
        accepted = 'a mass flow with its unit such as "0.48 kg/s"'
        yield Refusal(what, accepted, "", "coolant.mass_flow")
    if coolant.returns_to_injector and fluid != fuel:
        what = f"{fluid} does not burn as the fuel here, which is {fuel}"
        accepted, do = "true only where the coolant is the fuel", "make the coolant the fuel"
        yield Refusal(what, accepted, f"remove it, or {do}", "coolant.returns_to_injector")
    if coolant.feeds_injector is False and returns(coolant, propellants):
        what = "the coolant burns as the fuel and brings its heat back, so it feeds the injector"
        do = "remove it, or give coolant.returns_to_injector = false"
        yield Refusal(what, "true", do, "coolant.feeds_injector")


def _coolant_notes(coolant: Any, propellants: Any) -> Iterator[str]:
    fluid, fuel = coolant.fluid, propellants.fuel
    by_fuel = coolant.mass_flow.fuel_fraction is not None
    if fluid == fuel and not by_fuel and coolant.returns_to_injector is None:
        yield (
            f"the coolant is the fuel, {fuel}, but coolant.mass_flow is a value: its heat is "
            "taken as lost; set coolant.returns_to_injector = true if this flow burns in the "
            "chamber"
        )
    if fluid == fuel and propellants.fuel_water and coolant.table is None:
        yield (
            f"the fuel holds {propellants.fuel_water:.3g} of water, and the coolant's properties "
            f"are those of pure {fluid}: water carries more heat and boils hotter; give "
            "coolant.table with those of the mixture"
        )
    if fluid in CAUTIONS and coolant.table is None and FLOWS_AS_FUEL.get(fluid, fuel) == fuel:
        yield CAUTIONS[fluid]
    if returns(coolant, propellants) and propellants.fuel_temperature is not None:
        yield (
            "propellants.fuel_temperature is not used: the fuel enters the chamber as the "
            "coolant leaves the slots"
        )


def _models(models: Any, coolant: Any, notes: list[str]) -> Iterator[Refusal]:
    usual = design.Models()
    chosen = {role: getattr(models, role) for role in ROLES}
    chosen = {r: name for r, name in chosen.items() if name and name != getattr(usual, r)}
    if not chosen:
        return
    from regen.physics import _dispatch  # imports the compiler: only where a name needs it

    for role, name in chosen.items():
        known = tuple(getattr(_dispatch, role.upper()))
        if name not in known:
            accepted, do = f"one of {quoted(known)}", suggestion(name, known)
            yield Refusal("unknown correlation", accepted, do, f"models.{role}")
        elif coolant is not None and role in ("coolant_side", "boiling"):
            yield from _fits(role, name, correlated_as(coolant), notes)


def _fits(role: str, name: str, fluid: str, notes: list[str]) -> Iterator[Refusal]:
    """Refuse a correlation made for other coolants; note one that is too general."""
    from regen.physics.registry import CORRELATIONS, of_role

    chosen, fits = CORRELATIONS[name], [c for c in of_role(role) if c.fits(fluid)]
    what = ""
    if not chosen.fits(fluid):
        what = f"it was fitted to {chosen.made_for}, and coolant.fluid is {fluid}"
    elif fluid == design.OWN_FLUID and not chosen.without_critical_point:
        what = f"it needs the critical point, and coolant.fluid is {fluid}"
        fits = [c for c in fits if c.without_critical_point]
    if what:
        do = "name one of these, or leave the key out: the rule for the fluid chooses"
        yield Refusal(what, quoted(c.name for c in fits), do, f"models.{role}")
        return
    own = [c.name for c in fits if c.fluids]
    if fluid == "hydrogen" and own and name not in own:
        notes.append(
            f"models.{role} = {shown(name)} is a general form: in hydrogen it is optimistic by 2 "
            f"to 4 where the wall is over twice the bulk; fitted to it are {', '.join(own)}"
        )


def _sizing(sizing: Any) -> Iterator[Refusal]:
    free = sizing.free or design.Sizing().free
    for name in get_args(design.Free):
        low, high = sizing[f"{name}_from"], sizing[f"{name}_to"]
        where = f"sizing.{name}_to"
        given = [key for key in (f"{name}_from", f"{name}_to") if sizing[key] is not None]
        if given and name not in free:
            do = f'remove it, or add "{name}" to sizing.free'
            yield Refusal(f"the {name} is not free", "", do, f"sizing.{given[0]}")
        if len(given) < 2 or name not in free:
            continue
        if isinstance(low, Flow):
            if (low.mass_flow is None) != (high.mass_flow is None):
                what = f"sizing.{name}_from and {name}_to are not of one kind"
                accepted = "both with a unit of mass flow, or both shares of the fuel"
                yield Refusal(what, accepted, "", where)
                continue
            low, high = (v.mass_flow or v.fuel_fraction for v in (low, high))
        if not low < high:
            yield Refusal(f"not above sizing.{name}_from", "a greater value", "", where)

"""Checks across the keys of a case, and the design in SI that its sections make."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from regen import design
from regen.case.circuits import build_circuits, check_circuits
from regen.case.closeout import build_closeout, check_closeout
from regen.case.coolant import check_own_coolant
from regen.case.fields import Flow, shown, suggestion
from regen.case.film import build_film, film_keys, film_values
from regen.case.life import check_life
from regen.case.manifolds import check_manifolds
from regen.case.metals import check_metals
from regen.case.section import Section
from regen.case.sizing import build_sizing, check_sizing
from regen.units import Refusal

Raw = Mapping[str, Mapping[str, Any]]
Good = Mapping[str, Any]

SAND_GRAIN_PER_RA = 5.863
"""Equivalent sand grain over Ra [-]; adams_grant_watson2012 in data/sources.toml."""

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
FLOWS_AS_FUEL = {"n-dodecane": "RP-1"}
"""Coolants that stand in for a fuel of another name."""

CAUTIONS = {
    "oxygen": (
        "oxygen in the passages: residues of wax, oil or plating can ignite; clean for oxygen "
        "service and prove it"
    ),
    "n-dodecane": (
        "n-dodecane stands in for RP-1 as coolant: its thermal conductivity is about 20 % higher, "
        "so film coefficients come out about 13 % too high (not conservative), its heat is not "
        "returned to the chamber, and sulfur in the real fuel can attack copper"
    ),
}
"""What the user of a coolant must know, by fluid."""


def check_keys(raw: Raw) -> list[Refusal]:
    """Return what is wrong with the choice of keys, whatever their values.

    Parameters
    ----------
    raw : mapping
        Sections as they stand in the file.

    Returns
    -------
    list of Refusal
        Each with its key path in ``where``.
    """
    wrong: list[Refusal] = []
    for section, one, other in EITHER_OR:
        keys = raw.get(section)
        if keys is None or (section == "contour" and "profile" in keys):
            continue
        if one in keys and other in keys:
            what = f"{one} and {other} are both given, and each fixes the other"
            wrong.append(Refusal(what, "one of the two", "remove one", section))
        elif one not in keys and other not in keys:
            what = f"neither {one} nor {other} is given"
            wrong.append(Refusal(what, "one of the two", "add one", section))
    for section, one, other in AT_MOST_ONE:
        if one in raw.get(section, {}) and other in raw[section]:
            what = f"{one} and {other} are both given"
            wrong.append(Refusal(what, "at most one of the two", "remove one", section))
    wrong += _contour_keys(raw["contour"]) if "contour" in raw else []
    wrong += _coating_keys(raw["liner"]) if "liner" in raw else []
    wrong += check_closeout(raw["closeout"]) if "closeout" in raw else []
    wrong += check_life(raw["life"]) if "life" in raw else []
    return wrong + (film_keys(raw["film"]) if "film" in raw else [])


def _coating_keys(keys: Mapping[str, Any]) -> list[Refusal]:
    pair = ("coating", "coating_conductivity")
    for given, missing in (pair, pair[::-1]):
        if given in keys and missing not in keys:
            what = f"{given} is given without {missing}, and a resistance needs both"
            return [Refusal(what, "both or neither", f"add {missing}", f"liner.{given}")]
    return []


def _contour_keys(keys: Mapping[str, Any]) -> list[Refusal]:
    if "profile" in keys:
        rules = [key for key in keys if key != "profile"]
        if not rules:
            return []
        what = f"it replaces the rules, and {', '.join(rules)} is given too"
        given = shown(keys["profile"])
        return [Refusal(what, "", "remove one or the other", "contour.profile", given)]
    wrong = []
    for key in ("contraction_ratio", "area_ratio"):
        if key not in keys:
            do = "add it, or give the contour by points with profile"
            wrong.append(Refusal("it is missing", "a plain number above 1", do, f"contour.{key}"))
    if keys.get("nozzle") == "bell":
        for key in ("bell_start_angle", "bell_exit_angle"):
            if key not in keys:
                what = "a bell needs it, and no built-in value would be better than a guess"
                accepted = 'an angle such as "30 deg"'
                do = "add it from your nozzle's design chart"
                wrong.append(Refusal(what, accepted, do, f"contour.{key}"))
        stray = [key for key in keys if key == "divergent_half_angle"]
    else:
        stray = [key for key in keys if key.startswith("bell_")]
    shape = "bell" if keys.get("nozzle") == "bell" else "cone"
    for key in stray:
        what = f'it has no meaning for a nozzle of shape "{shape}"'
        do = "remove it, or change contour.nozzle"
        wrong.append(Refusal(what, "", do, f"contour.{key}", shown(keys[key])))
    return wrong


def check_values(good: Good, notes: list[str]) -> list[Refusal]:
    """Return what is wrong between values of the sections that are sound in themselves.

    Parameters
    ----------
    good : mapping
        Checked sections by name.
    notes : list of str
        Takes what the user must know although nothing is wrong.

    Returns
    -------
    list of Refusal
        Each with its key path in ``where``.
    """
    wrong: list[Refusal] = []
    if "propellants" in good:
        wrong += _propellants(good["propellants"])
    if "contour" in good:
        notes += _idle_contour_keys(good["contour"])
    if "manifolds" in good:
        parts = good.get("channels"), good.get("shop"), good.get("circuits", {})
        wrong += check_manifolds(good["manifolds"], *parts)
    if "channels" in good:
        wrong += _channels(good["channels"], good.get("contour"), good.get("shop"))
    wrong += check_metals(good, notes)
    if "coolant" in good:
        wrong += check_own_coolant(good["coolant"], notes)
    if "coolant" in good and "propellants" in good:
        wrong += _coolant(good["coolant"], good["propellants"], notes)
    wrong += check_circuits(good.get("circuits", {}), good.get("channels"), good.get("coolant"))
    for name, circuit in good.get("circuits", {}).items():
        wrong += _room_for_tolerances(circuit, good.get("shop"), f"circuits.{name}")
    if "models" in good:
        wrong += _models(good["models"], good.get("coolant"), notes)
    if "sizing" in good:
        wrong += check_sizing(good["sizing"])
    if "film" in good and "propellants" in good:
        wrong += film_values(good["film"], good["propellants"])
        notes += _diluted_film(good["film"], good["propellants"])
    if "chamber" in good and good["chamber"].pressure_at is None:
        notes.append(
            "chamber.pressure_at is not given: the pressure is taken as static at the injector face"
        )
    return wrong


def _propellants(propellants: Any) -> list[Refusal]:
    wrong = _fed(propellants, "oxidizer") + _fed(propellants, "fuel")
    share = propellants.oxidizer_concentration
    if share is not None and propellants.oxidizer != "hydrogen-peroxide":
        what = f"it has no meaning for {propellants.oxidizer}"
        key = "propellants.oxidizer_concentration"
        wrong.append(Refusal(what, "only with hydrogen-peroxide", "remove it", key, f"{share:g}"))
    return wrong + _diluted(propellants)


def _diluted(propellants: Any) -> list[Refusal]:
    """Refuse water in a fuel that is no liquid alcohol."""
    water = propellants.fuel_water
    if not water:
        return []
    from regen.gas import feeds as feed

    gas = propellants.fuel_state == "gas"
    if propellants.fuel in feed.ALCOHOLS and not gas:
        return []
    what = f"it has no meaning for {propellants.fuel}{' stored as a gas' if gas else ''}"
    accepted = f"only with the liquids {' and '.join(feed.ALCOHOLS)}"
    return [Refusal(what, accepted, "remove it", "propellants.fuel_water", f"{water:g}")]


def _diluted_film(film: Any, propellants: Any) -> list[str]:
    fluid = film.fluid or propellants.fuel
    if not propellants.fuel_water or film.mass_flow is None or fluid != propellants.fuel:
        return []
    return [
        f"the fuel holds {propellants.fuel_water:.3g} of water, and the film is taken as pure "
        f"{fluid}: with water it takes up more heat before it is dry"
    ]


def _fed(propellants: Any, role: str) -> list[Refusal]:
    """Return what is wrong with the state in which one propellant is stored."""
    name, state = getattr(propellants, role), getattr(propellants, f"{role}_state")
    T = getattr(propellants, f"{role}_temperature")
    if state != "gas" and T is None:
        return []
    from regen.gas import feeds as feed

    if state == "gas":
        if feed.SPECIES[name].gas:
            return []
        what, key = f"{name} is stored as a liquid only", f"propellants.{role}_state"
        return [Refusal(what, '"liquid"', "remove it", key, shown(state))]
    low, high = feed.liquid_range(name)
    if low <= T < high:
        return []
    what = f"{name} is no liquid at {T:.5g} K"
    accepted = f"from {low:.5g} K to below {high:.5g} K"
    do = f"change it, or store the {role} as a gas" if feed.SPECIES[name].gas else "change it"
    return [Refusal(what, accepted, do, f"propellants.{role}_temperature", f'"{T:.5g} K"')]


def _channels(channels: Any, contour: Any, shop: Any) -> list[Refusal]:
    wrong = []
    begin, end = channels.cooled_from, channels.cooled_to
    if begin is not None and end is not None and end <= begin:
        what = f"the slots end at or before cooled_from, {begin * 1e3:g} mm"
        do = "x runs from the injector (negative) to the nozzle exit (positive), throat at 0"
        given = f'"{end * 1e3:g} mm"'
        wrong.append(Refusal(what, "above cooled_from", do, "channels.cooled_to", given))
    ratio = channels.cooled_to_area_ratio
    exit_ratio = contour.area_ratio if contour else None
    if ratio is not None and exit_ratio is not None and ratio > exit_ratio:
        what = f"the nozzle ends at area ratio {exit_ratio:g}"
        accepted = "at most contour.area_ratio"
        key = "channels.cooled_to_area_ratio"
        wrong.append(Refusal(what, accepted, "lower it, or leave it out", key, f"{ratio:g}"))
    return wrong + _room_for_tolerances(channels, shop, "channels")


def _room_for_tolerances(slots: Any, shop: Any, section: str) -> list[Refusal]:
    wrong = []
    for name in ("width", "depth"):
        tolerance = getattr(shop, f"{name}_tolerance", None)
        size = getattr(slots, name)
        if tolerance is None or size is None:
            continue
        least = min(size.value)
        if tolerance >= least:
            what = f"it leaves nothing of the least slot {name}, {least * 1e3:g} mm"
            key, given = f"shop.{name}_tolerance", f'"{tolerance * 1e3:g} mm"'
            wrong.append(Refusal(what, f"less than {section}.{name}", "", key, given))
    return wrong


def _idle_contour_keys(contour: Any) -> list[str]:
    if contour.ambient_pressure is None or contour.throat_diameter is None:
        return []
    return [
        "contour.ambient_pressure has no effect: it sizes the throat for contour.thrust, and "
        "contour.throat_diameter is given"
    ]


def _coolant(coolant: Any, propellants: Any, notes: list[str]) -> list[Refusal]:
    fluid, fuel = coolant.fluid, propellants.fuel
    is_fuel = fluid == fuel
    stands_in = FLOWS_AS_FUEL.get(fluid) == fuel
    by_fuel = coolant.mass_flow.fuel_fraction is not None
    wrong = []
    if by_fuel and not (is_fuel or stands_in):
        what = f"the coolant is {fluid} and the fuel {fuel}, so its flow is not the fuel's"
        accepted = 'a mass flow with its unit such as "0.48 kg/s"'
        wrong.append(Refusal(what, accepted, "", "coolant.mass_flow", "a share of the fuel"))
    if coolant.returns_to_injector and not is_fuel:
        what = f"{fluid} does not burn as the fuel here, which is {fuel}"
        do = "remove it, or make the coolant the fuel"
        key = "coolant.returns_to_injector"
        wrong.append(Refusal(what, "true only where the coolant is the fuel", do, key, "true"))
    if coolant.feeds_injector is False and returns(coolant, propellants):
        what = "the coolant burns as the fuel and brings its heat back, so it feeds the injector"
        do = "remove it, or give coolant.returns_to_injector = false"
        wrong.append(Refusal(what, "true", do, "coolant.feeds_injector", "false"))
    if is_fuel and not by_fuel and coolant.returns_to_injector is None:
        notes.append(
            f"the coolant is the fuel, {fuel}, but coolant.mass_flow is a value: its heat is "
            "taken as lost; set coolant.returns_to_injector = true if this flow burns in the "
            "chamber"
        )
    if is_fuel and propellants.fuel_water and coolant.table is None:
        notes.append(
            f"the fuel holds {propellants.fuel_water:.3g} of water, and the coolant's properties "
            f"are those of pure {fluid}: water carries more heat and boils hotter; give "
            "coolant.table with those of the mixture"
        )
    if fluid in CAUTIONS and coolant.table is None and (stands_in or fluid not in FLOWS_AS_FUEL):
        notes.append(CAUTIONS[fluid])
    if returns(coolant, propellants) and propellants.fuel_temperature is not None:
        notes.append(
            "propellants.fuel_temperature is not used: the fuel enters the chamber as the "
            "coolant leaves the slots"
        )
    return wrong


def returns(coolant: Any, propellants: Any) -> bool:
    """Return whether the coolant's heat comes back with the fuel: as given, or by the rule.

    Parameters
    ----------
    coolant, propellants : Section
        Checked sections [-].

    Returns
    -------
    bool
        Without ``returns_to_injector``: true if the coolant is the fuel and flows by the fuel.
    """
    if coolant.returns_to_injector is not None:
        return bool(coolant.returns_to_injector)
    return coolant.fluid == propellants.fuel and coolant.mass_flow.fuel_fraction is not None


def feeds_injector(coolant: Any, propellants: Any) -> bool | None:
    """Return whether the coolant goes to the injector, None where the case leaves that open.

    Parameters
    ----------
    coolant, propellants : Section
        Checked sections [-].

    Returns
    -------
    bool or None
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
    """Return the fluid [-] that correlations are chosen for, of a checked section."""
    return coolant.fluid if coolant.table is None else design.OWN_FLUID


def _models(models: Any, coolant: Any, notes: list[str]) -> list[Refusal]:
    roles = ("gas_side", "coolant_side", "friction", "boiling")
    usual = design.Models()
    chosen = {role: getattr(models, role) for role in roles}
    chosen = {r: name for r, name in chosen.items() if name and name != getattr(usual, r)}
    if not chosen:
        return []
    from regen.physics import _dispatch  # imports the compiler: only where a name needs it

    wrong = []
    for role, name in chosen.items():
        known = tuple(getattr(_dispatch, role.upper()))
        if name not in known:
            accepted = "one of " + ", ".join(f'"{one}"' for one in known)
            what, do = "it is not a known correlation", suggestion(name, known)
            wrong.append(Refusal(what, accepted, do, f"models.{role}", shown(name)))
        elif coolant is not None and role in ("coolant_side", "boiling"):
            wrong += _fits(role, name, correlated_as(coolant), notes)
    return wrong


def _fits(role: str, name: str, fluid: str, notes: list[str]) -> list[Refusal]:
    """Return whether a correlation was made for other coolants; note one that is too general."""
    from regen.physics.registry import CORRELATIONS, of_role

    fits = [c for c in of_role(role) if c.fits(fluid)]
    own = [c.name for c in fits if c.fluids]
    if not CORRELATIONS[name].fits(fluid):
        what = f"it was fitted to {CORRELATIONS[name].made_for}, and coolant.fluid is {fluid}"
        accepted = ", ".join(f'"{c.name}"' for c in fits)
        do = "name one of these, or leave the key out: the rule for the fluid chooses"
        return [Refusal(what, accepted, do, f"models.{role}", shown(name))]
    if fluid == design.OWN_FLUID and not CORRELATIONS[name].without_critical_point:
        what = f"it asks for the critical point, and coolant.fluid is {fluid}"
        fits = [c for c in fits if c.without_critical_point]
        accepted = ", ".join(f'"{c.name}"' for c in fits)
        do = "name one of these, or leave the key out"
        return [Refusal(what, accepted, do, f"models.{role}", shown(name))]
    if fluid == "hydrogen" and own and name not in own:
        notes.append(
            f"models.{role} = {shown(name)} is a general form: in hydrogen it is optimistic by 2 "
            f"to 4 where the wall is over twice the bulk; fitted to it are {', '.join(own)}"
        )
    return []


def _given(section: Section) -> dict[str, Any]:
    return {key: value for key, value in section if value is not None}


def build_design(title: str, good: Good, notes: list[str]) -> design.Design:
    """Return the design that checked sections make.

    Parameters
    ----------
    title : str
        Title of the case.
    good : mapping
        All sections, checked.
    notes : list of str
        What the user must know; more is added here.

    Returns
    -------
    Design
        In SI; keys left out have the design's own defaults.
    """
    contour = _given(good["contour"])
    channels = _given(good["channels"])
    channels["roughness"] = _roughness(channels, notes)
    counts = channels.pop("count")
    channels["count"], channels["count_changes"] = counts.count, counts.changes
    slots = design.Channels(**channels)
    coolant = _given(good["coolant"])
    flow: Flow = coolant.pop("mass_flow")
    coolant["mass_flow"], coolant["fuel_fraction"] = flow.mass_flow, flow.fuel_fraction
    coolant["returns_to_injector"] = returns(good["coolant"], good["propellants"])
    coolant["feeds_injector"] = feeds_injector(good["coolant"], good["propellants"])
    feed = design.Coolant(**coolant)
    manifolds = _given(good["manifolds"])
    return design.Design(
        title=title,
        propellants=design.Propellants(**_given(good["propellants"])),
        chamber=design.Chamber(**_given(good["chamber"])),
        contour=contour.get("profile") or design.ContourShape(**contour),
        materials=good["materials"].files or (),
        liner=design.Liner(**_given(good["liner"])),
        channels=slots,
        coolant=feed,
        manifolds=design.Manifolds(**manifolds) if manifolds else None,
        closeout=build_closeout(_given(good["closeout"])),
        plating=design.Plating(**_given(good["plating"])),
        models=design.Models(**_given(good["models"])),
        limits=design.Limits(**_given(good["limits"])),
        life=design.Life(**_given(good["life"])),
        shop=design.Shop(**_given(good["shop"])),
        sizing=build_sizing(_given(good["sizing"])),
        film=build_film(_given(good["film"]), good["propellants"]),
        circuits=build_circuits(good.get("circuits", {}), slots, feed.enters_at),
        notes=tuple(notes),
        uncertainty=tuple(good.get("uncertainty", ())),
    )


def _roughness(channels: dict[str, Any], notes: list[str]) -> float:
    """Return the sand grain [m], taking the roughness keys out of ``channels``."""
    measured = channels.pop("roughness_Ra", None)
    if measured is None:
        return float(channels.pop("roughness_sand_grain"))
    grain = SAND_GRAIN_PER_RA * float(measured)
    notes.append(
        f"channels.roughness_Ra = {measured * 1e6:.4g} um is taken as a sand grain of "
        f"{grain * 1e6:.4g} um: {SAND_GRAIN_PER_RA} times Ra (Adams, Grant and Watson 2012)"
    )
    return grain

"""Checks of a plan for stress: debond, shrink, buckling, unbonded patches, heat on the nickel."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from regen.checks.strength.strain import thermal_strain
from regen.checks.strength.stresses import land_tension
from regen.design import Design
from regen.errors import RangeError
from regen.metals import selection as metals
from regen.metals.alloys import AlloyCondition
from regen.result import Array
from regen.shop.plating import deposit_stress as ds
from regen.shop.plating.baths import facts
from regen.shop.plating.check import Check, check, note
from regen.shop.plating.values import LayerSpec

States = tuple[Array, Array, Array]
"""Stresses as plated, cooled to 21 degC and running (S,) [Pa]."""

ROOM = 294.15
"""Room temperature [K]: 21 degC, from which the expansion of nickel is tabulated."""


@dataclass(frozen=True, slots=True, eq=False)
class PlatedLayers:
    """The layers on the solved design, arrays (S,) at the stations of the result, SI.

    ``as_plated`` is the nickel before its last turning, ``nickel`` and ``copper`` what is left;
    ``spec`` is the nickel's, ``T_jacket`` the solved one on the lands [K], ``pressure`` that of the
    coolant where nothing flows [Pa].
    """

    design: Design
    stations: Mapping[str, Array]
    spec: LayerSpec
    copper: Array
    nickel: Array
    as_plated: Array
    T_jacket: Array
    pressure: float

    @property
    def stress(self) -> float:
        """Stress of the nickel as deposited [Pa], 0 if it is not known."""
        return self.spec.stress or 0.0

    @property
    def x(self) -> Array:
        """Axial positions [m]."""
        return self.stations["x_m"]


@dataclass(frozen=True, slots=True)
class Moduli:
    """Moduli [Pa] and Poisson ratio [-] at room temperature, and what they are based on."""

    nickel: float
    nu: float
    liner: float
    copper: float
    note: str


def checks(layers: PlatedLayers) -> Iterator[Check]:
    """Yield the checks of stress and heat; one that cannot be evaluated says what to give."""
    try:
        moduli = _moduli(layers.design)
    except RangeError as error:
        yield check("deposit_stress", notes=[str(error)])
    else:
        stresses = _stresses(layers, moduli)
        yield from _debond(layers, moduli, stresses)
        yield _shrink(layers, moduli)
        yield from _buckling(layers, moduli, stresses)
    yield _lands(layers)
    yield from _unbond(layers)
    yield from _heat(layers)


def _moduli(design: Design) -> Moduli:
    nickel, text = metals.jacket(design), ""
    try:
        E = float(nickel.value("youngs_modulus", 293.15).value)
    except RangeError:
        E = facts("bond")["modulus"].value
        text = note("modulus", E=E / 1e9, nickel=nickel)
    nu = float(nickel.value("poisson_ratio", 293.15).value)
    liner, copper = (
        float(metal.value("youngs_modulus", ROOM).value)
        for metal in (metals.liner(design), metals.plated_copper(design))
    )
    return Moduli(E, nu, liner, copper, text)


def _stresses(layers: PlatedLayers, moduli: Moduli) -> States:
    """Return the nickel's stress (S,) in each state [Pa]."""
    own = np.full_like(layers.nickel, layers.stress)
    room = np.full_like(own, ROOM)
    hot = 0.5 * (layers.stations["T_wall_hot_mean_K"] + layers.stations["T_wall_cold_K"])
    cold = own + _mismatch(layers, moduli, room, room)
    return own, cold, own + _mismatch(layers, moduli, hot, layers.T_jacket)


def _mismatch(layers: PlatedLayers, moduli: Moduli, T_liner: Array, T_jacket: Array) -> Array:
    """Return the nickel's stress from differential expansion since the bath (S,) [Pa].

    The liner carries at most its yield, which is all that is known where an expansion is not.
    """
    s = layers.stations
    liner = metals.liner(layers.design).quiet
    jacket = metals.jacket(layers.design).quiet
    strain = thermal_strain(liner, T_liner, layers.spec.temperature)
    strain = strain - thermal_strain(jacket, T_jacket, layers.spec.temperature)
    share = s["land_width_m"] / (s["land_width_m"] + s["channel_width_m"])
    solid = s["wall_m"] + layers.copper + s["channel_depth_m"] * share
    ratio = moduli.nickel * layers.nickel / (moduli.liner * solid)
    stress = moduli.nickel * strain / (1.0 - moduli.nu) / (1.0 + ratio)
    cap = _yield(liner, T_liner) * solid / layers.nickel
    known = np.where(np.isnan(stress), np.sign(T_liner - T_jacket) * cap, stress)
    return np.asarray(np.where(np.isnan(cap), known, np.clip(known, -cap, cap)))


def _yield(metal: AlloyCondition, T: Array | float) -> Array:
    """Return the yield at T [Pa], NaN where it is not known."""
    try:
        return metal.quiet.value("yield", T).value
    except RangeError:
        return np.full(np.shape(T), np.nan)


def _debond(layers: PlatedLayers, moduli: Moduli, stresses: States) -> Iterator[Check]:
    """Compare the energy stored in each state, where it is greatest, with the bond's toughness."""
    toughness, bond = layers.design.plating.toughness, facts("bond")
    elastic = moduli.nickel, moduli.nu
    thickness = (layers.as_plated, layers.nickel, layers.nickel)
    for n, (stress, h) in enumerate(zip(stresses, thickness, strict=True), start=1):
        energy = ds.stored_energy(stress, h, *elastic)
        if np.isnan(energy).all():
            yield check(f"stored_energy_{n}", notes=[note("energy unknown")])
            continue
        i = int(np.nanargmax(energy))
        s, t = float(stress[i]), float(h[i])
        edge = float(ds.edge_release(s, t, *elastic))
        notes = [f"{s / 1e6:+.0f} MPa in {t * 1e3:.2f} mm", f"{edge:.3g} J/m2 at a straight edge"]
        if toughness is not None and s != 0.0:
            most = float(ds.critical_thickness(s, toughness, *elastic))
            notes.append(f"the bond holds up to {most * 1e3:.3g} mm at this stress")
        if toughness is None and n == 1:
            low, high = bond["toughness_low"].value, bond["toughness_high"].value
            notes += [note("toughness", low=low, high=high), note("smut")]
        if np.isnan(stress).any():
            notes.append(note("left out"))
        notes.append(moduli.note)
        yield check(f"stored_energy_{n}", energy[i], toughness, x_m=layers.x[i], notes=notes)


def _hoop(layers: PlatedLayers, moduli: Moduli) -> Array:
    """Return the liner's hoop stress under the nickel before its last turning (S,) [Pa]."""
    stiffness = moduli.liner * layers.stations["wall_m"] + moduli.copper * layers.copper
    return ds.liner_hoop(layers.stress, layers.as_plated, moduli.nickel, moduli.liner, stiffness)


def _shrink(layers: PlatedLayers, moduli: Moduli) -> Check:
    hoop, liner = _hoop(layers, moduli), metals.liner(layers.design)
    i = int(np.argmax(np.abs(hoop)))
    strength = float(_yield(liner, layers.spec.temperature))
    notes = [f"{hoop[i] / 1e6:+.0f} MPa", note("no support")]
    if unknown := np.isnan(strength):
        notes.append(note("liner yield", liner=liner, T=layers.spec.temperature))
    limit = None if unknown else strength
    return check("liner_shrink", abs(hoop[i]), limit, x_m=layers.x[i], notes=notes)


def _buckling(layers: PlatedLayers, moduli: Moduli, stresses: States) -> Iterator[Check]:
    """Compare compression with what buckles a layer over slots, and over unbonded patches."""
    w, plating = layers.stations["channel_width_m"], layers.design.plating
    E, nu = moduli.nickel, moduli.nu

    def most_squeezed(key: str, stress: Array, holds: Array, text: str = "") -> Check:
        squeeze = np.maximum(-stress, 0.0)
        i = int(np.argmax(squeeze / np.maximum(holds, 1e-300)))
        notes = ["" if squeeze.any() else note("in tension"), text]
        return check(key, squeeze[i], holds[i], x_m=layers.x[i], notes=notes)

    if (layers.copper > 0.0).any():
        own = plating.copper_stress
        text = note("copper stress") if own is None else ""
        nu_copper = float(metals.plated_copper(layers.design).value("poisson_ratio", 293.15).value)
        holds = ds.strip_buckling(layers.copper, w, moduli.copper, nu_copper)
        yield most_squeezed("copper_buckling", (own or 0.0) + _hoop(layers, moduli), holds, text)
    least = np.fmin.reduce(stresses)
    yield most_squeezed("nickel_buckling", least, ds.strip_buckling(layers.nickel, w, E, nu))
    if plating.unbond is not None:
        holds = ds.patch_buckling(layers.nickel, plating.unbond, E, nu)
        text = f"patch {plating.unbond * 1e3:g} mm wide"
        yield most_squeezed("patch_buckling", least, holds, text)
        return
    limit = layers.spec.bath.stress_limit
    assumed = limit.value if limit else abs(layers.stress)
    wide = layers.nickel * np.sqrt(ds.patch_buckling(1.0, 1.0, E, nu) / assumed)
    i = int(np.argmin(wide))
    text = note("no patch", stress=assumed / 1e6, wide=wide[i] * 1e3)
    yield check("patch_buckling", x_m=layers.x[i], notes=[text])


def _lands(layers: PlatedLayers) -> Check:
    s = layers.stations
    pressure = np.asarray(layers.pressure)
    tension = land_tension(pressure, s["channel_width_m"], s["land_width_m"])
    i = int(np.argmax(tension))
    return check("land_bond", tension[i], layers.design.closeout.bond_strength, x_m=layers.x[i])


def _unbond(layers: PlatedLayers) -> Iterator[Check]:
    jacket = metals.jacket(layers.design)
    factor, patch = layers.design.limits.yield_factor, layers.design.plating.unbond
    strength = _yield(jacket, layers.T_jacket)
    cold = _yield(jacket, 293.15)
    if np.isnan(cold):
        yield check("roof_bending", notes=[note("jacket yield", jacket=jacket)])
        return
    unknown = np.isnan(strength)
    strength = np.where(unknown, cold, strength)
    wide = ds.largest_unbond(strength / factor, layers.pressure, layers.nickel)
    slots = layers.stations["channel_width_m"]
    i = int(np.argmin(wide / slots))
    notes = [f"factor {factor:g} on yield", f"the slot there is {slots[i] * 1e3:.2f} mm wide"]
    if unknown.any():
        notes.append(note("jacket cold", T=layers.T_jacket.max()))
    yield check("roof_bending", wide[i], slots[i], x_m=layers.x[i], notes=notes)
    if patch is not None:
        i = int(np.argmin(wide))
        yield check("unbond", wide[i], patch, x_m=layers.x[i])


def _heat(layers: PlatedLayers) -> Iterator[Check]:
    """Check the nickel against softening and sulfur: as solved, and in planned heatings."""
    limits = metals.jacket(layers.design).alloy.T_max
    i = int(np.argmax(layers.T_jacket))
    for service, key in (("short", "jacket_softening"), ("long", "jacket_sulfur")):
        if limit := limits.get(service):
            T, x = layers.T_jacket[i], layers.x[i]
            yield check(key, T, limit.value, x_m=x, source=limit.source)
    if limit := limits.get("long"):
        key = "heating_after_nickel_{n}"
        for n, heating in enumerate(layers.design.closeout.jacket_process, start=1):
            T, most, source = heating.temperature, limit.value, limit.source
            yield check(key, T, most, source=source, n=n, heating=heating)

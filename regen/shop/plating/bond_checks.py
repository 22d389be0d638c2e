"""Checks of a plan for stress: debond, shrink, buckling, unbonded patches, heat on the nickel."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from regen.checks.strength.strain import thermal_strain
from regen.checks.strength.stresses import land_tension
from regen.design import Design
from regen.errors import RangeError
from regen.metals import selection as metals
from regen.metals.alloys import AlloyCondition
from regen.result import Array
from regen.shop.plating import deposit_stress as ds
from regen.shop.plating.baths import Bath, facts
from regen.shop.plating.outcome import Check, Verdict, judged

ROOM = 294.15
"""Room temperature [K]: 21 degC, from which the expansion of nickel is tabulated."""

STATES = ("as plated, in the bath", "cooled to 21 degC", "running")


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """What the checks look at, arrays (S,) at the stations of the result, SI.

    ``as_plated`` is the nickel before its last turning, ``nickel`` and ``copper`` what is left;
    ``stress`` the nickel's own [Pa], ``T_bath`` its bath's temperature, ``T_jacket`` the solved
    one on the lands [K], ``pressure`` that of the coolant where nothing flows [Pa].
    """

    design: Design
    stations: Mapping[str, Array]
    bath: Bath
    copper: Array
    nickel: Array
    as_plated: Array
    stress: float
    T_bath: float
    T_jacket: Array
    pressure: Array


@dataclass(frozen=True, slots=True, eq=False)
class Elastic:
    """Moduli [Pa] and Poisson ratio [-] at room temperature, and a word on where they are from."""

    nickel: float
    nu: float
    liner: float
    copper: float
    note: str


def checks(laid: Laid) -> Iterator[Check]:
    """Yield the checks of stress and heat.

    Parameters
    ----------
    laid : Laid
        Layers of the plan, and the solved design.

    Yields
    ------
    Check
        What cannot be evaluated says so, and what to give.
    """
    elastic = _elastic(laid)
    if isinstance(elastic, str):
        yield Check(
            "deposit_stress", "stress of the deposit", "not checked", "given_in_case", note=elastic
        )
    else:
        stresses = _stresses(laid, elastic)
        yield from _debond(laid, elastic, stresses)
        yield _shrink(laid, elastic)
        yield from _buckling(laid, elastic, stresses)
    yield _lands(laid)
    yield from _unbond(laid)
    yield from _heat(laid)


def _elastic(laid: Laid) -> Elastic | str:
    """Return the moduli, or in words which is missing."""
    nickel = metals.jacket(laid.design)
    note = ""
    try:
        E = float(nickel.value("youngs_modulus", 293.15).value)
    except RangeError:
        E = facts("bond")["modulus"].value
        note = f"modulus of sulfamate nickel, {E / 1e9:.0f} GPa, taken for {nickel}"
    try:
        return Elastic(
            nickel=E,
            nu=float(nickel.value("poisson_ratio", 293.15).value),
            liner=float(metals.liner(laid.design).value("youngs_modulus", ROOM).value),
            copper=float(metals.plated_copper(laid.design).value("youngs_modulus", ROOM).value),
            note=note,
        )
    except RangeError as error:
        return str(error)


def _stresses(laid: Laid, elastic: Elastic) -> tuple[Array, Array, Array]:
    """Return the nickel's stress (S,) in each of ``STATES`` [Pa]."""
    own = np.full_like(laid.nickel, laid.stress)
    cold = own + _mismatch(laid, elastic, np.full_like(own, ROOM), np.full_like(own, ROOM))
    hot = 0.5 * (laid.stations["T_wall_hot_mean_K"] + laid.stations["T_wall_cold_K"])
    return own, cold, own + _mismatch(laid, elastic, hot, laid.T_jacket)


def _mismatch(laid: Laid, elastic: Elastic, T_liner: Array, T_jacket: Array) -> Array:
    """Return the nickel's stress from unlike expansion since the bath (S,) [Pa].

    The liner gives at most its yield, which is all that is known where an expansion is not.
    """
    s = laid.stations
    liner = replace(metals.liner(laid.design), beyond="nan")
    jacket = replace(metals.jacket(laid.design), beyond="nan")
    strain = thermal_strain(liner, T_liner, laid.T_bath)
    strain = strain - thermal_strain(jacket, T_jacket, laid.T_bath)
    share = s["land_width_m"] / (s["land_width_m"] + s["channel_width_m"])
    solid = s["wall_m"] + laid.copper + s["channel_depth_m"] * share
    ratio = elastic.nickel * laid.nickel / (elastic.liner * solid)
    stress = elastic.nickel * strain / (1.0 - elastic.nu) / (1.0 + ratio)
    cap = _yield(liner, T_liner) * solid / laid.nickel
    known = np.where(np.isnan(stress), np.sign(T_liner - T_jacket) * cap, stress)
    return np.asarray(np.where(np.isnan(cap), known, np.clip(known, -cap, cap)))


def _yield(metal: AlloyCondition, T: Array | float) -> Array:
    """Return the yield at T [Pa], NaN where it is not known."""
    try:
        return replace(metal, beyond="nan").value("yield", T).value
    except RangeError:
        return np.full(np.shape(T), np.nan)


def _worst(stress: Array, h: Array) -> tuple[int, bool]:
    """Return where s^2 h is greatest, and whether some stations are not known."""
    energy = np.where(np.isnan(stress), -1.0, stress**2 * h)
    return int(np.argmax(energy)), bool(np.isnan(stress).any())


def _debond(laid: Laid, elastic: Elastic, stresses: tuple[Array, Array, Array]) -> Iterator[Check]:
    given = laid.design.plating.toughness
    anchor = facts("bond")
    steel = f"{anchor['toughness_low'].value:.0f}-{anchor['toughness_high'].value:.0f} J/m2"
    layers = (laid.as_plated, laid.nickel, laid.nickel)
    for n, (state, stress, h) in enumerate(zip(STATES, stresses, layers, strict=True), start=1):
        i, partly = _worst(stress, h)
        if np.isnan(stress[i]):
            what = "expansion and yield of the liner are not tabulated at its temperatures"
            yield Check(
                f"stored_energy_{n}",
                f"stored energy, {state}",
                "not checked",
                "hutchinson_suo1992",
                note=what,
            )
            continue
        s, t = float(stress[i]), float(h[i])
        energy = float(ds.stored_energy(s, t, elastic.nickel, elastic.nu))
        edge = float(ds.edge_release(s, t, elastic.nickel, elastic.nu))
        note = f"{s / 1e6:+.0f} MPa in {t * 1e3:.2f} mm; at a straight edge {edge:.3g} J/m2"
        if given is not None and s != 0.0:
            most = float(ds.critical_thickness(s, given, elastic.nickel, elastic.nu))
            note += f"; the bond holds {most * 1e3:.3g} mm at this stress"
        if given is None and n == 1:
            note += (
                "; no toughness is given: make a coupon in the same load and give "
                f"plating.toughness. Nickel on steel had {steel}; smut, passive nickel or wax "
                "can lower it more than ten times"
            )
        if partly:
            note += "; stations beyond the liner's tables are left out"
        if elastic.note:
            note += f"; {elastic.note}"
        verdict: Verdict = "not checked" if given is None else judged(energy, given, "max")
        if verdict == "broken" and n == len(STATES):
            verdict = "watch"
            note += "; an upper bound, with the liner at its yield"
        text = f"stored energy of the nickel, {state}"
        yield Check(
            f"stored_energy_{n}",
            text,
            verdict,
            "hutchinson_suo1992",
            energy,
            given,
            "max",
            "J/m2",
            _x(laid, i),
            note,
        )


def _x(laid: Laid, i: int) -> float:
    return float(laid.stations["x_m"][i])


def _hoop(laid: Laid, elastic: Elastic) -> Array:
    """Return the liner's hoop stress under the nickel before its last turning (S,) [Pa]."""
    stiff = elastic.liner * laid.stations["wall_m"] + elastic.copper * laid.copper
    return ds.liner_hoop(laid.stress, laid.as_plated, elastic.nickel, elastic.liner, stiff)


def _shrink(laid: Laid, elastic: Elastic) -> Check:
    hoop = _hoop(laid, elastic)
    i = int(np.argmax(np.abs(hoop)))
    liner = metals.liner(laid.design)
    strength = float(_yield(liner, laid.T_bath))
    text = "hoop stress of hot wall and copper as the nickel grows"
    note = f"{hoop[i] / 1e6:+.0f} MPa; lands carry none over the slots, wax gives no support"
    size = abs(float(hoop[i]))
    if np.isnan(strength):
        note += f"; yield of {liner} is not known at {laid.T_bath:.0f} K: give your own"
        return Check(
            "liner_shrink",
            text,
            "not checked",
            "ring_shrink",
            size,
            None,
            "max",
            "Pa",
            _x(laid, i),
            note,
        )
    verdict = judged(size, strength, "max")
    if verdict == "broken":
        note += "; the liner yields or goes out of round: a bath of less stress, or a mandrel"
    return Check(
        "liner_shrink", text, verdict, "ring_shrink", size, strength, "max", "Pa", _x(laid, i), note
    )


def _buckling(
    laid: Laid, elastic: Elastic, stresses: tuple[Array, Array, Array]
) -> Iterator[Check]:
    """Compare compression with what buckles a layer over slots, and over unbonded patches."""
    w = laid.stations["channel_width_m"]
    own = laid.design.plating.copper_stress
    plated = laid.copper > 0.0
    if plated.any():
        squeeze = np.maximum(-((own or 0.0) + _hoop(laid, elastic)), 0.0)
        nu = float(metals.plated_copper(laid.design).value("poisson_ratio", 293.15).value)
        holds = ds.strip_buckling(laid.copper, w, elastic.copper, nu)
        more = ""
        if own is None:
            more = "; its own stress is not given (plating.copper_stress): only the squeeze counts"
        yield _compression(
            "copper_buckling",
            "compression of the copper over the slots",
            laid,
            squeeze,
            holds,
            more,
        )
    squeeze = np.maximum(-np.fmin.reduce(stresses), 0.0)
    limit = laid.bath.stress_limit
    holds = ds.strip_buckling(laid.nickel, w, elastic.nickel, elastic.nu)
    yield _compression(
        "nickel_buckling", "compression of the nickel over the slots", laid, squeeze, holds, ""
    )
    patch = laid.design.plating.unbond
    text = "compression of the nickel over an unbonded patch"
    if patch is None:
        wild = limit.value if limit else abs(laid.stress)
        wide = laid.nickel * np.sqrt(ds.patch_buckling(1.0, 1.0, elastic.nickel, elastic.nu) / wild)
        i = int(np.argmin(wide))
        note = (
            f"no patch is given (plating.unbond); at {wild / 1e6:.0f} MPa of compression one "
            f"{wide[i] * 1e3:.0f} mm wide would lift"
        )
        yield Check(
            "patch_buckling",
            text,
            "not checked",
            "clamped_plate_buckling",
            x_m=_x(laid, i),
            note=note,
        )
        return
    holds = ds.patch_buckling(laid.nickel, patch, elastic.nickel, elastic.nu)
    yield _compression(
        "patch_buckling", text, laid, squeeze, holds, f"; patch {patch * 1e3:g} mm wide"
    )


def _compression(
    name: str, text: str, laid: Laid, squeeze: Array, holds: Array, more: str
) -> Check:
    i = int(np.argmax(squeeze / np.maximum(holds, 1e-300)))
    size, limit = float(squeeze[i]), float(holds[i])
    note = "in tension in every state that is known" if not squeeze.any() else ""
    if judged(size, limit, "max") == "broken":
        note = "the layer is too thin: it buckles where nothing holds it down"
    return Check(
        name,
        text,
        judged(size, limit, "max"),
        "clamped_plate_buckling",
        size,
        limit,
        "max",
        "Pa",
        _x(laid, i),
        (note + more).lstrip("; "),
    )


def _lands(laid: Laid) -> Check:
    s = laid.stations
    tension = land_tension(laid.pressure, s["channel_width_m"], s["land_width_m"])
    i = int(np.argmax(tension))
    size, limit = float(tension[i]), laid.design.closeout.bond_strength
    note = "at the coolant's inlet pressure with no gas pressure; proof asks for more"
    return Check(
        "land_bond",
        "tension of the bond on the lands",
        judged(size, limit, "max"),
        "land_equilibrium",
        size,
        limit,
        "max",
        "Pa",
        _x(laid, i),
        note,
    )


def _unbond(laid: Laid) -> Iterator[Check]:
    jacket = metals.jacket(laid.design)
    factor = laid.design.limits.yield_factor
    strength = np.broadcast_to(_yield(jacket, laid.T_jacket), laid.T_jacket.shape)
    cold = _yield(jacket, 293.15)
    text = "widest unbonded strip that the nickel bends over at the inlet pressure"
    if np.isnan(cold):
        note = f"yield of {jacket} is not tabulated: give it for your bath, from a coupon"
        yield Check("roof_bending", text, "not checked", "clamped_strip", note=note)
        return
    held = np.isnan(strength)
    strength = np.where(held, cold, strength)
    wide = ds.largest_unbond(strength / factor, laid.pressure, laid.nickel)
    slots = laid.stations["channel_width_m"]
    i = int(np.argmin(wide / slots))
    note = f"with {factor:g} on yield; the slot there is {slots[i] * 1e3:.2f} mm wide"
    if held.any():
        note += (
            f"; yield at 293 K, since none is tabulated for the jacket's "
            f"{laid.T_jacket.max():.0f} K"
        )
    yield Check(
        "roof_bending",
        text,
        judged(float(wide[i]), float(slots[i]), "min"),
        "clamped_strip",
        float(wide[i]),
        float(slots[i]),
        "min",
        "m",
        _x(laid, i),
        note,
    )
    patch = laid.design.plating.unbond
    if patch is not None:
        i = int(np.argmin(wide))
        yield Check(
            "unbond",
            "widest unbonded strip against what inspection may miss",
            judged(float(wide[i]), patch, "min"),
            "clamped_strip",
            float(wide[i]),
            patch,
            "min",
            "m",
            _x(laid, i),
            "taken as a strip, which is wider than any patch",
        )


def _heat(laid: Laid) -> Iterator[Check]:
    """Check the nickel against softening and sulfur: solved, and heatings that are planned."""
    alloy = metals.jacket(laid.design).alloy
    i = int(np.argmax(laid.T_jacket))
    hottest = float(laid.T_jacket[i])
    limits = {
        "short": ("jacket_softening", "it softens"),
        "long": ("jacket_sulfur", "sulfur on its grain boundaries embrittles it"),
    }
    for service, (name, why) in limits.items():
        limit = alloy.T_max.get(service)
        if limit is None:
            continue
        verdict = judged(hottest, limit.value, "max")
        if verdict == "broken":  # the design's to mend, not the bath's
            verdict = "watch"
        note = f"above, {why}"
        if service == "long":
            note += ": specify less than 10-20 ppm of sulfur, no brightener and no saccharin"
        else:
            note += ": give closeout.jacket_yield_strength as measured there, or cool the lands"
        yield Check(
            name,
            "temperature of the jacket on the lands, running",
            verdict,
            limit.source,
            hottest,
            limit.value,
            "max",
            "K",
            _x(laid, i),
            note,
        )
    limit = alloy.T_max.get("long")
    for n, heating in enumerate(laid.design.closeout.jacket_process, start=1):
        if limit is None:
            break
        T = heating.temperature
        verdict = judged(T, limit.value, "max")
        note = ""
        if verdict == "broken":
            note = (
                "a braze, a bond or a heat treatment this hot must come before the nickel, never "
                "after it: the nickel softens and sulfur embrittles it"
            )
        yield Check(
            f"heating_after_nickel_{n}",
            f"heating after plating: {heating}",
            verdict,
            limit.source,
            T,
            limit.value,
            "max",
            "K",
            None,
            note,
        )

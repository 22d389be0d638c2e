"""Checks of a plan against its baths: current density, efficiency, rate, temperature, wax."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from regen.shop.plating.baths import facts
from regen.shop.plating.faraday import metal
from regen.shop.plating.outcome import Check, Verdict, judged
from regen.shop.plating.values import InBath

A_DM2 = 100.0
"""Of a current density [A/m2] in an A/dm2."""
UM_H = 1e-6 / 3600.0
"""Of a growth [m/s] in a um/h."""
CELSIUS = 273.15


def checks(metals: Sequence[InBath], wax_melts: float | None) -> Iterator[Check]:
    """Yield the checks of the baths.

    Parameters
    ----------
    metals : sequence of InBath
        In the order in which they are plated.
    wax_melts : float or None
        Temperature at which the wax begins to melt [K], if known.

    Yields
    ------
    Check
        Outside what is usual is "watch"; outside all that is quoted is "broken".
    """
    for of in metals:
        yield _current(of)
        yield _efficiency(of)
        if of.rate is not None:
            yield _rate(of, of.rate)
        yield _temperature(of)
        if of.stress is not None:
            yield _stress(of, of.stress)
    yield _wax(metals, wax_melts)


def _current(of: InBath) -> Check:
    low, high = of.bath.window
    least, most = of.bath.widest
    j = of.current_density
    verdict: Verdict = "kept" if low.value <= j <= high.value else "watch"
    broken = low if j < low.value else high
    note = f"{of.bath.name}: {low.value / A_DM2:.3g} to {high.value / A_DM2:.3g} A/dm2"
    if verdict == "watch":
        note += ", and outside it nothing here is known of stress and soundness"
    beyond = (least is not None and j < least.value) or (most is not None and j > most.value)
    if beyond:
        verdict = "broken"
        ends = [f"{one.value / A_DM2:.3g}" if one else "-" for one in (least, most)]
        note += f"; the widest that is quoted is {ends[0]} to {ends[1]} A/dm2"
    if j < low.value and of.bath.key == "sulfamate":
        note += "; a very low current density gives no low stress: +75 to +136 MPa were measured"
    return Check(
        f"{of.bath.metal}_current_density",
        f"current density of the {of.bath.metal}",
        verdict,
        broken.source,
        j,
        broken.value,
        "min" if j < low.value else "max",
        "A/m2",
        note=note,
    )


def _efficiency(of: InBath) -> Check:
    low, high = of.bath.efficiencies
    usual = low.value <= of.efficiency <= high.value
    limit = low if of.efficiency < low.value else high
    note = f"{of.bath.name}: {low.value:g} to {high.value:g}; it multiplies the thickness"
    return Check(
        f"{of.bath.metal}_efficiency",
        f"cathode efficiency of the {of.bath.metal}",
        "kept" if usual else "watch",
        limit.source,
        of.efficiency,
        limit.value,
        "min" if of.efficiency < low.value else "max",
        "-",
        note=note,
    )


def _rate(of: InBath, rate: float) -> Check:
    """Hold a measured rate against what the current can deposit at all."""
    j = of.current_density
    theory = metal(of.bath.metal).growth(j, of.efficiency)
    most = metal(of.bath.metal).growth(j, 1.0)
    mean = j * rate / theory
    note = (
        f"{rate / theory:.2f} of the {theory / UM_H:.3g} um/h that {j / A_DM2:.3g} A/dm2 at "
        f"{of.efficiency:g} give; as if {mean / A_DM2:.2g} A/dm2 flowed all the time"
    )
    verdict = judged(rate, most, "max")
    if verdict == "broken":
        note = (
            f"more than the {most / UM_H:.3g} um/h that {j / A_DM2:.3g} A/dm2 can deposit at all: "
            "check rate and current density"
        )
    return Check(
        f"{of.bath.metal}_rate",
        f"measured growth of the {of.bath.metal}",
        verdict,
        "faraday_law",
        rate,
        most,
        "max",
        "m/s",
        note=note,
    )


def _temperature(of: InBath) -> Check:
    low, high = of.bath.temperatures
    T = of.temperature
    limit = low if T < low.value else high
    verdict: Verdict = "kept" if low.value <= T <= high.value else "watch"
    note = f"{of.bath.name}: {low.value - CELSIUS:.0f} to {high.value - CELSIUS:.0f} degC"
    if T > high.value and of.bath.key == "sulfamate":
        verdict = "broken"
        note += "; hotter, the sulfamate breaks down and the stress rises"
    return Check(
        f"{of.bath.metal}_bath_temperature",
        f"temperature of the {of.bath.metal} bath",
        verdict,
        limit.source,
        T,
        limit.value,
        "min" if T < low.value else "max",
        "K",
        note=note,
    )


def _stress(of: InBath, stress: float) -> Check:
    """Hold the deposit's stress against the limit of the shop's quality check."""
    limit = of.bath.stress_limit
    text = f"stress of the {of.bath.metal} as deposited"
    note = f"{stress / 1e6:+.0f} MPa; measure it each shift on strip or spiral"
    if limit is None:
        what = f"no usual limit is known for {of.bath.name}"
        return Check(
            f"{of.bath.metal}_stress",
            text,
            "told",
            of.stress_source,
            stress,
            unit="Pa",
            note=f"{note}; {what}",
        )
    good = judged(abs(stress), limit.value, "max") == "kept"
    verdict: Verdict = "kept" if good else "watch"
    name = f"{of.bath.metal}_stress"
    size = abs(stress)
    return Check(name, text, verdict, limit.source, size, limit.value, "max", "Pa", note=note)


def _wax(metals: Sequence[InBath], melts: float | None) -> Check:
    above = facts("shop")["wax_above_bath"]
    hottest = max(of.temperature for of in metals)
    least = hottest + above.value
    text = "melting of the wax above the hottest bath"
    if melts is None:
        note = (
            f"the wax must not begin to melt below {least - CELSIUS:.0f} degC; give "
            "plating.wax_melts of the grade you use"
        )
        return Check("wax", text, "not checked", above.source, None, least, "min", "K", note=note)
    verdict = judged(melts, least, "min")
    note = f"at least {above.value:.0f} K above {hottest - CELSIUS:.0f} degC"
    return Check("wax", text, verdict, above.source, melts, least, "min", "K", note=note)

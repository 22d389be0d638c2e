"""Checks of a plan against its baths: current density, efficiency, rate, temperature, wax."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from regen.metals.alloys import Fact
from regen.shop.plating.baths import ZERO_CELSIUS, facts
from regen.shop.plating.check import Check, Verdict, check, judged
from regen.shop.plating.faraday import metal
from regen.shop.plating.values import LayerSpec

A_DM2 = 100.0
"""One A/dm2 in A/m2."""
UM_H = 1e-6 / 3600.0
"""One um/h in m/s."""


def checks(specs: Sequence[LayerSpec], wax_melts: float | None) -> Iterator[Check]:
    """Yield the checks of the baths in plating order; ``wax_melts`` [K] where it is known."""
    for spec in specs:
        yield _current(spec)
        low, high = spec.bath.efficiencies
        note = f"{spec.bath.name}: {low.value:g} to {high.value:g}; thickness is proportional to it"
        yield _window(spec, "efficiency", spec.efficiency, spec.bath.efficiencies, [note])
        if spec.rate is not None:
            yield _rate(spec, spec.rate)
        yield _temperature(spec)
        if spec.stress is not None:
            yield _stress(spec, spec.stress)
    yield _wax(specs, wax_melts)


def _window(
    spec: LayerSpec,
    quantity: str,
    value: float,
    window: tuple[Fact, Fact],
    notes: Sequence[str],
    *,
    broken: bool = False,
) -> Check:
    """Return the check of a value that belongs between two; outside is "watch", or "broken"."""
    low, high = window
    below = value < low.value
    limit = low if below else high
    verdict: Verdict = "kept" if low.value <= value <= high.value else "watch"
    return check(
        f"{{metal}}_{quantity}",
        value,
        limit.value,
        notes=notes,
        verdict="broken" if broken else verdict,
        source=limit.source,
        kind="min" if below else "max",
        metal=spec.bath.metal,
    )


def _current(spec: LayerSpec) -> Check:
    bath, j = spec.bath, spec.current_density
    low, high = (end.value for end in bath.window)
    least, most = bath.widest
    notes = [f"{bath.name}: {low / A_DM2:.3g} to {high / A_DM2:.3g} A/dm2"]
    if not low <= j <= high:
        notes.append("outside this window stress and soundness of the deposit are not known here")
    beyond = (least is not None and j < least.value) or (most is not None and j > most.value)
    if beyond:
        ends = [f"{end.value / A_DM2:.3g}" if end else "-" for end in bath.widest]
        notes.append(f"the widest range quoted is {ends[0]} to {ends[1]} A/dm2")
    if j < low and bath.key == "sulfamate":
        notes.append(
            "very low current density does not give low stress: +75 to +136 MPa were measured"
        )
    return _window(spec, "current_density", j, bath.window, notes, broken=beyond)


def _rate(spec: LayerSpec, rate: float) -> Check:
    """Compare a measured rate with the most that the current can deposit."""
    j, name = spec.current_density, spec.bath.metal
    theory = metal(name).growth(j, spec.efficiency)
    most = metal(name).growth(j, 1.0)
    if judged(rate, most, "max") == "broken":
        note = (
            f"more than the {most / UM_H:.3g} um/h that {j / A_DM2:.3g} A/dm2 can deposit at all: "
            "check rate and current density"
        )
    else:
        note = (
            f"{rate / theory:.2f} of the {theory / UM_H:.3g} um/h from {j / A_DM2:.3g} A/dm2 at "
            f"efficiency {spec.efficiency:g}; equivalent to a steady "
            f"{j * rate / theory / A_DM2:.2g} A/dm2"
        )
    return check("{metal}_rate", rate, most, notes=[note], metal=name)


def _temperature(spec: LayerSpec) -> Check:
    bath, T = spec.bath, spec.temperature
    low, high = (end.value for end in bath.temperatures)
    notes = [f"{bath.name}: {low - ZERO_CELSIUS:.0f} to {high - ZERO_CELSIUS:.0f} degC"]
    decays = T > high and bath.key == "sulfamate"
    if decays:
        notes.append("hotter, the sulfamate breaks down and the stress rises")
    return _window(spec, "bath_temperature", T, bath.temperatures, notes, broken=decays)


def _stress(spec: LayerSpec, stress: float) -> Check:
    """Compare the deposit's stress with the limit of the shop's quality check."""
    bath = spec.bath
    key, limit = "{metal}_stress", bath.stress_limit
    note = f"{stress / 1e6:+.0f} MPa; measure it each shift on a strip or spiral"
    if limit is None:
        note = f"{note}; no usual limit is known for {bath.name}"
        source = spec.stress_source
        return check(key, stress, notes=[note], verdict="told", source=source, metal=bath.metal)
    size, source = abs(stress), limit.source
    return check(key, size, limit.value, notes=[note], source=source, metal=bath.metal)


def _wax(specs: Sequence[LayerSpec], melts: float | None) -> Check:
    above = facts("shop")["wax_above_bath"]
    hottest = max(spec.temperature for spec in specs)
    least = hottest + above.value
    note = f"at least {above.value:.0f} K above {hottest - ZERO_CELSIUS:.0f} degC"
    if melts is None:
        note = (
            f"the wax must not begin to melt below {least - ZERO_CELSIUS:.0f} degC; give "
            "plating.wax_melts of the grade you use"
        )
    return check("wax", melts, least, notes=[note], source=above.source)

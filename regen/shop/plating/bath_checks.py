"""Checks of a plan against its baths: current density, efficiency, rate, temperature, wax."""

from collections.abc import Iterator, Sequence

from regen.metals.alloys import Fact
from regen.shop.plating.baths import ZERO_CELSIUS, facts
from regen.shop.plating.check import Check, Verdict, check, judged, note
from regen.shop.plating.faraday import metal
from regen.shop.plating.values import LayerSpec

A_DM2 = 100.0
"""One A/dm2 in A/m2."""
UM_H = 1e-6 / 3600.0
"""One um/h in m/s."""


def checks(specs: Sequence[LayerSpec], wax_melts: float | None) -> Iterator[Check]:
    """Yield the checks of the baths in plating order; ``wax_melts`` [K] where it is known."""
    for spec in specs:
        bath = spec.bath
        yield _current(spec)
        low, high = bath.efficiency_low, bath.efficiency_high
        text = note("usual efficiency", bath=bath.name, low=low.value, high=high.value)
        yield _window(spec, "efficiency", spec.efficiency, low, high, [text])
        if spec.rate is not None:
            yield _rate(spec, spec.rate)
        yield _temperature(spec)
        if spec.stress is not None:
            yield _stress(spec, spec.stress)
    yield _wax(max(spec.temperature for spec in specs), wax_melts)


def _window(
    spec: LayerSpec,
    quantity: str,
    value: float,
    low: Fact,
    high: Fact,
    notes: Sequence[str],
    *,
    broken: bool = False,
) -> Check:
    """Return the check of a value that belongs between two; outside is "watch", or "broken"."""
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
    low, high, least, most = bath.window_low, bath.window_high, bath.widest_low, bath.widest_high
    notes = [note("window", bath=bath.name, low=low.value / A_DM2, high=high.value / A_DM2)]
    if not low.value <= j <= high.value:
        notes.append(note("outside window"))
    beyond = (least is not None and j < least.value) or (most is not None and j > most.value)
    if beyond:
        lowest, highest = (f"{end.value / A_DM2:.3g}" if end else "-" for end in (least, most))
        notes.append(note("widest", low=lowest, high=highest))
    if j < low.value and bath.key == "sulfamate":
        notes.append(note("very low current"))
    return _window(spec, "current_density", j, low, high, notes, broken=beyond)


def _rate(spec: LayerSpec, rate: float) -> Check:
    """Compare a measured rate with the most that the current can deposit."""
    j, name = spec.current_density, spec.bath.metal
    theory = metal(name).growth(j, spec.efficiency)
    most = metal(name).growth(j, 1.0)
    key = "rate too high" if judged(rate, most, "max") == "broken" else "rate"
    text = note(
        key,
        most=most / UM_H,
        density=j / A_DM2,
        share=rate / theory,
        theory=theory / UM_H,
        efficiency=spec.efficiency,
        steady=j * rate / theory / A_DM2,
    )
    return check("{metal}_rate", rate, most, notes=[text], metal=name)


def _temperature(spec: LayerSpec) -> Check:
    bath, T = spec.bath, spec.temperature
    low, high = bath.temperature_low, bath.temperature_high
    celsius = {"low": low.value - ZERO_CELSIUS, "high": high.value - ZERO_CELSIUS}
    notes = [note("temperature", bath=bath.name, **celsius)]
    decays = T > high.value and bath.key == "sulfamate"
    if decays:
        notes.append(note("decays"))
    return _window(spec, "bath_temperature", T, low, high, notes, broken=decays)


def _stress(spec: LayerSpec, stress: float) -> Check:
    """Compare the deposit's stress with the limit of the shop's quality check."""
    bath = spec.bath
    key, limit, name = "{metal}_stress", bath.stress_limit, bath.metal
    if limit is None:
        text = note("stress limit unknown", stress=stress / 1e6, bath=bath.name)
        source = spec.stress_source
        return check(key, stress, notes=[text], verdict="told", source=source, metal=name)
    text = note("measure stress", stress=stress / 1e6)
    return check(key, abs(stress), limit.value, notes=[text], source=limit.source, metal=name)


def _wax(hottest: float, melts: float | None) -> Check:
    above = facts("shop")["wax_above_bath"]
    least = hottest + above.value
    text = note("wax melts", above=above.value, hottest=hottest - ZERO_CELSIUS)
    if melts is None:
        text = note("wax unknown", least=least - ZERO_CELSIUS)
    return check("wax", melts, least, notes=[text], source=above.source)

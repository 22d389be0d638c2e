"""Hydrogen beside the jacket: copper barrier, embrittlement of the metals, manifolds and welds."""

from __future__ import annotations

from collections.abc import Iterator

from regen.design import Design
from regen.shop.plating.baths import facts
from regen.shop.plating.check import Check, Verdict, check

WEAK = ("extreme", "severe")
"""Classes that need a barrier."""


def embrittlement(alloy: str) -> tuple[str, float] | None:
    """Return a metal's class in hydrogen and its notched strength over that in helium [-].

    The classes are "extreme", "severe", "slight" and "negligible"; None where no ratio is known.
    """
    ratio = facts("hydrogen", "ratios").get(alloy)
    if ratio is None:
        return None
    classes = facts("hydrogen", "classes")
    return next(name for name, least in classes.items() if ratio.value >= least.value), ratio.value


def checks(design: Design, thinnest: float, x: float) -> Iterator[Check]:
    """Yield what hydrogen asks of the closeout.

    ``thinnest`` is the copper after turning at its thinnest place, tolerance taken off, ``x``
    where that is [m].
    """
    yield _barrier(design, thinnest, x)
    if design.coolant.fluid != "hydrogen":
        return
    yield _metal("liner", design.liner.alloy, "it is bare to the hydrogen")
    yield _metal("jacket", design.closeout.jacket_alloy, "the barrier must be whole")
    known = facts("hydrogen")
    note = (
        "inlet and outlet manifolds, their welds to the jacket and the zones heated by them, "
        "slot ends where the copper stops, and every port drilled through it: keep the nickel "
        "covered there, and choose a metal of class slight or negligible. N07718 keeps "
        f"{100 * known['base_threshold'].value:.0f} % of its toughness in air, its welds "
        f"{100 * known['weld_threshold'].value:.0f} %"
    )
    yield check("hydrogen_manifolds", notes=[note], verdict="told")


def _barrier(design: Design, thinnest: float, x: float) -> Check:
    key, wanted, known = "hydrogen_barrier", design.plating.barrier, facts("hydrogen")
    if design.coolant.fluid != "hydrogen":
        notes = ["the copper is a bond layer here, and optional as a barrier"]
        if design.propellants.fuel == "hydrogen":
            notes.append(
                "the fuel is hydrogen: what it touches at the injector and in its manifolds must "
                "be judged separately"
            )
        coolant = design.coolant.fluid
        return check("no_barrier", thinnest, x_m=x, notes=notes, verdict="told", coolant=coolant)
    if design.closeout.copper <= 0.0:
        notes = ["there is no copper layer, and hydrogen embrittles electroformed nickel"]
        source = "hydrogen_notch"
        return check(key, 0.0, wanted, x_m=x, notes=notes, verdict="broken", source=source)
    if wanted is None:
        note = (
            f"no barrier is given (plating.barrier). {known['barrier'].value * 1e3:g} mm drawn, "
            f"and never less than {known['barrier_least'].value * 1e3:g} mm after turning, are "
            "recalled with low confidence: for information, not a limit"
        )
        return check(key, thinnest, x_m=x, notes=[note], source=known["barrier"].source)
    notes, short = ["never rely on it for strength"], (wanted - thinnest) * 1e3
    return check(key, thinnest, wanted, x_m=x, notes=notes, short=short)


def _metal(part: str, alloy: str, caution: str) -> Check:
    known, key = embrittlement(alloy), "hydrogen_{part}"
    if known is None:
        note = "no notched strength in hydrogen is known for it here: use your own test data"
        return check(key, notes=[note], part=part, alloy=alloy, grade="")
    kind, ratio = known
    verdict: Verdict = "watch" if kind in WEAK else "told"
    notes = [caution] if kind in WEAK else []
    grade = f": {kind} embrittlement"
    return check(key, ratio, notes=notes, verdict=verdict, part=part, alloy=alloy, grade=grade)

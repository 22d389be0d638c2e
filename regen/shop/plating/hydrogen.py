"""Hydrogen beside the jacket: copper barrier, embrittlement of the metals, manifolds and welds."""

from __future__ import annotations

from collections.abc import Iterator

from regen.design import Design
from regen.shop.plating.baths import facts
from regen.shop.plating.check import Check, compare

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
    yield Check(
        "hydrogen_manifolds",
        "manifolds, welds and ports see hydrogen without a barrier",
        "told",
        "hydrogen_threshold",
        note=(
            "inlet and outlet manifolds, their welds to the jacket and the zones heated by them, "
            "slot ends where the copper stops, and every port drilled through it: keep the nickel "
            "covered there, and choose a metal of class slight or negligible. N07718 keeps "
            f"{100 * known['base_threshold'].value:.0f} % of its toughness in air, its welds "
            f"{100 * known['weld_threshold'].value:.0f} %"
        ),
    )


def _barrier(design: Design, thinnest: float, x: float) -> Check:
    name, wanted = "hydrogen_barrier", design.plating.barrier
    text = "copper between hydrogen and nickel after turning, at its thinnest place"
    if design.coolant.fluid != "hydrogen":
        text = f"copper as a hydrogen barrier: not needed, the coolant is {design.coolant.fluid}"
        note = "the copper is a bond layer here, and optional as a barrier"
        if design.propellants.fuel == "hydrogen":
            note += (
                "; the fuel is hydrogen: what it touches at the injector and in its manifolds must "
                "be judged separately"
            )
        source = "common_practice"
        return Check(name, text, "told", source, thinnest, None, "min", "m", x, note)
    if design.closeout.copper <= 0.0:
        note = "there is no copper layer, and hydrogen embrittles electroformed nickel"
        return Check(name, text, "broken", "hydrogen_notch", 0.0, wanted, "min", "m", x, note)
    source, remedy = "given_in_case", ""
    note = "never rely on it for strength"
    if wanted is None:
        known = facts("hydrogen")
        source = known["barrier"].source
        note = (
            f"no barrier is given (plating.barrier). {known['barrier'].value * 1e3:g} mm drawn, "
            f"and never less than {known['barrier_least'].value * 1e3:g} mm after turning, are "
            "recalled with low confidence: for information, not a limit"
        )
    else:
        remedy = f"draw closeout.copper at least {(wanted - thinnest) * 1e3:.3g} mm thicker"
    notes = [note]
    return compare(
        name, text, source, thinnest, wanted, "min", "m", x_m=x, notes=notes, remedy=remedy
    )


def _metal(part: str, alloy: str, caution: str) -> Check:
    known, name = embrittlement(alloy), f"hydrogen_{part}"
    text = f"{part} of {alloy} in hydrogen"
    if known is None:
        note = "no notched strength in hydrogen is known for it here: use your own test data"
        return Check(name, text, "not checked", "hydrogen_notch", note=note)
    kind, ratio = known
    weak = kind in WEAK
    return Check(
        name,
        f"{text}: {kind} embrittlement",
        "watch" if weak else "told",
        "hydrogen_notch",
        ratio,
        None,
        "min",
        "notched strength in hydrogen over helium",
        None,
        caution if weak else "",
    )

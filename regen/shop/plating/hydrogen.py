"""Hydrogen beside the jacket: copper barrier, embrittlement of the jacket, manifolds and welds."""

from __future__ import annotations

from collections.abc import Iterator

from regen.design import Design
from regen.shop.plating.baths import facts
from regen.shop.plating.outcome import Check, Verdict, judged

WEAK = ("extreme", "severe")
"""Classes that need a barrier."""


def embrittlement(alloy: str) -> tuple[str, float] | None:
    """Return the class of a metal in hydrogen and its notched strength ratio.

    Parameters
    ----------
    alloy : str
        Name in ``properties.alloys``.

    Returns
    -------
    tuple of str and float, or None
        "extreme", "severe", "slight" or "negligible", and strength in hydrogen over that in
        helium [-]; None where no ratio is known.
    """
    ratio = facts("hydrogen", "ratios").get(alloy)
    if ratio is None:
        return None
    classes = facts("hydrogen", "classes")
    return next(name for name, least in classes.items() if ratio.value >= least.value), ratio.value


def checks(design: Design, thinnest: float, x: float) -> Iterator[Check]:
    """Yield what hydrogen asks of the closeout.

    Parameters
    ----------
    design : Design
        Names coolant, propellants, jacket.
    thinnest : float
        Copper after turning at its thinnest place, tolerance taken off [m].
    x : float
        Where that is [m].

    Yields
    ------
    Check
        The barrier, the metals' classes, manifolds and weld zones.
    """
    if design.coolant.fluid != "hydrogen":
        text = f"copper as a barrier: none is needed, the coolant is {design.coolant.fluid}"
        note = "the copper is a bond layer here, and optional as a barrier"
        if design.propellants.fuel == "hydrogen":
            note += "; the fuel is hydrogen: what it touches at the injector and in its manifolds"
            note += " is to be judged by itself"
        yield Check(
            "hydrogen_barrier", text, "told", "common_practice", thinnest, None, "min", "m", x, note
        )
        return
    yield _barrier(design, thinnest, x)
    for name, alloy in (("liner", design.liner.alloy), ("jacket", design.closeout.jacket_alloy)):
        yield _metal(name, alloy, barred=name == "jacket")
    of = facts("hydrogen")
    yield Check(
        "hydrogen_manifolds",
        "manifolds, welds and ports touch hydrogen without a barrier",
        "told",
        "hydrogen_threshold",
        note=(
            "inlet and outlet manifolds, their welds to the jacket and the heat beside them, the "
            "slots' ends where the copper stops, and every port drilled through it: keep nickel "
            "covered there, and choose a metal of class slight or negligible. N07718 keeps "
            f"{100 * of['base_threshold'].value:.0f} % of its toughness in air, its welds "
            f"{100 * of['weld_threshold'].value:.0f} %"
        ),
    )


def _barrier(design: Design, thinnest: float, x: float) -> Check:
    text = "copper between hydrogen and nickel, after turning, at its thinnest place"
    wanted = design.plating.barrier
    if design.closeout.copper <= 0.0:
        note = "there is no copper layer, and hydrogen embrittles electroformed nickel"
        return Check(
            "hydrogen_barrier", text, "broken", "hydrogen_notch", 0.0, wanted, "min", "m", x, note
        )
    if wanted is None:
        of = facts("hydrogen")
        note = (
            f"no barrier is given (plating.barrier). {of['barrier'].value * 1e3:g} mm drawn, and "
            f"never less than {of['barrier_least'].value * 1e3:g} mm after turning, are recalled "
            "with low confidence: told here, and no limit"
        )
        return Check(
            "hydrogen_barrier",
            text,
            "not checked",
            of["barrier"].source,
            thinnest,
            None,
            "min",
            "m",
            x,
            note,
        )
    verdict = judged(thinnest, wanted, "min")
    note = "never rely on it for strength"
    if verdict == "broken":
        note = f"draw closeout.copper at least {(wanted - thinnest) * 1e3:.3g} mm thicker; {note}"
    return Check(
        "hydrogen_barrier", text, verdict, "given_in_case", thinnest, wanted, "min", "m", x, note
    )


def _metal(name: str, alloy: str, *, barred: bool) -> Check:
    found = embrittlement(alloy)
    if found is None:
        text = f"{name} of {alloy} in hydrogen"
        note = "no notched strength in hydrogen is known for it here: bring it from your own tests"
        return Check(f"hydrogen_{name}", text, "not checked", "hydrogen_notch", note=note)
    kind, ratio = found
    text = f"{name} of {alloy} in hydrogen: {kind} embrittlement"
    weak = kind in WEAK
    verdict: Verdict = "watch" if weak else "told"
    note = ""
    if weak:
        note = "the barrier must be whole" if barred else "it is bare to the hydrogen"
    return Check(
        f"hydrogen_{name}",
        text,
        verdict,
        "hydrogen_notch",
        ratio,
        None,
        "min",
        "notched strength in hydrogen over helium",
        None,
        note,
    )

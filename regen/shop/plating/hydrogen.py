"""Hydrogen beside the jacket: copper barrier, embrittlement of the metals, manifolds and welds."""

from collections.abc import Iterator

from regen.design import Design
from regen.shop.plating.baths import facts
from regen.shop.plating.check import Check, Verdict, check, note

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
    yield _metal("liner", design.liner.alloy)
    yield _metal("jacket", design.closeout.jacket_alloy)
    known = facts("hydrogen")
    shares = {name: 100 * known[f"{name}_threshold"].value for name in ("base", "weld")}
    yield check("hydrogen_manifolds", notes=[note("manifolds", **shares)], verdict="told")


def _barrier(design: Design, thinnest: float, x: float) -> Check:
    key, wanted, known = "hydrogen_barrier", design.plating.barrier, facts("hydrogen")
    coolant = design.coolant.fluid
    if coolant != "hydrogen":
        fuel = [note("hydrogen fuel")] if design.propellants.fuel == "hydrogen" else []
        notes = [note("bond layer"), *fuel]
        return check("no_barrier", thinnest, x_m=x, notes=notes, verdict="told", coolant=coolant)
    if design.closeout.copper <= 0.0:
        notes, source = [note("no copper")], "hydrogen_notch"
        return check(key, 0.0, wanted, x_m=x, notes=notes, verdict="broken", source=source)
    if wanted is None:
        barrier, least = known["barrier"], known["barrier_least"]
        notes = [note("no barrier", drawn=barrier.value * 1e3, least=least.value * 1e3)]
        return check(key, thinnest, x_m=x, notes=notes, source=barrier.source)
    notes, short = [note("not strength")], (wanted - thinnest) * 1e3
    return check(key, thinnest, wanted, x_m=x, notes=notes, short=short)


def _metal(part: str, alloy: str) -> Check:
    known, key = embrittlement(alloy), "hydrogen_{part}"
    if known is None:
        return check(key, notes=[note("no strength")], part=part, alloy=alloy, grade="")
    kind, ratio = known
    verdict: Verdict = "watch" if kind in WEAK else "told"
    notes = [note(f"{part} bare")] if kind in WEAK else []
    grade = f": {kind} embrittlement"
    return check(key, ratio, notes=notes, verdict=verdict, part=part, alloy=alloy, grade=grade)

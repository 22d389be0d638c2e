"""Limits of primary stress, which decide: hot wall, lands, bond and jacket, at run and proof."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np

from regen.checks.runs import Compared, Limit, Rule, Run, Solved
from regen.checks.strength import stresses as strength
from regen.checks.strength.proof import T_PROOF, Proof, proof
from regen.checks.strength.secondary import secondary
from regen.checks.strength.structure import Shell, jacket_temperature, shell, sulfur_low
from regen.errors import RangeError
from regen.metals import selection as metals
from regen.metals.alloys import AlloyCondition
from regen.result import Array

ShellOf = Callable[[Run], Shell]
ProofOf = Callable[[Run], Proof]

_LINER, _JACKET = metals.LINER_KEYS["yield"], metals.JACKET_KEYS["yield"]
"""Keys that close a row of strength."""


def rules(solved: Solved) -> tuple[Rule, ...]:
    """Return the limits of stress of a design.

    Parameters
    ----------
    solved : Solved
        Solved runs with design and liner.

    Returns
    -------
    tuple of Rule
        From the hot wall outward, primary ones first; secondary ones only inform.

    Raises
    ------
    RangeError
        Never to the caller: the rules raise it where a strength is not tabulated.
    """
    jacket = jacket_of(solved)

    # several limits ask for the same of a run, and get the same answer or error
    @cache
    def temperature(run: Run) -> Array:
        return jacket_temperature(solved.design, solved.alloy, run)

    @cache
    def of(run: Run) -> Shell:
        return shell(solved.design, run, temperature(run))

    @cache
    def tried(run: Run) -> Proof | RangeError:
        try:
            limits = solved.design.limits
            return proof(limits, solved.alloy, jacket, run, temperature(run))
        except RangeError as error:
            return error

    def tested(run: Run) -> Proof:
        found = tried(run)
        if isinstance(found, RangeError):
            raise found
        return found

    return (
        _ligament(solved),
        _ligament_proof(solved, tested),
        _lands(solved),
        _lands_proof(solved, tested),
        _bond(solved, tested),
        _jacket(solved, jacket, of),
        _roof(solved, jacket, of),
        _jacket_proof(solved, jacket, of, tested),
        *secondary(solved, jacket, temperature),
    )


def jacket_of(solved: Solved) -> AlloyCondition:
    """Return the jacket's metal, asked beyond its tables as the liner is.

    Parameters
    ----------
    solved : Solved
        Solved runs with design and liner.

    Returns
    -------
    AlloyCondition
        View of its tables.
    """
    return replace(metals.jacket(solved.design), beyond=solved.alloy.beyond)


def _hot(solved: Solved, metal: AlloyCondition) -> str:
    limits = solved.design.limits
    return (
        f"against the yield of {_own(metal)} at temperature over {limits.yield_factor:g}, or its"
        f" tensile strength over {limits.ultimate_factor:g} where that is less and tabulated"
    )


def _cold(metal: AlloyCondition) -> str:
    return f"against the yield of {_own(metal)} at {T_PROOF:.0f} K: a proof test leaves no set"


def _own(metal: AlloyCondition) -> str:
    return f"{metal}, as the case gives it," if "yield" in metal.given else str(metal)


def _wall_mean(run: Run) -> Array:
    return 0.5 * (run.stations["T_wall_hot_K"] + run.stations["T_wall_cold_K"])


def _against_yield_at_proof(metal: AlloyCondition, stress: Array, note: str = "") -> Compared:
    cold = metal.value("yield", T_PROOF)
    said = "; ".join(part for part in (note, cold.note) if part)
    return Compared(stress, np.broadcast_to(cold.value, stress.shape), None, said)


def _ligament(solved: Solved) -> Rule:
    text = "hot wall over the channel as it runs: pressure bending or shear"
    note = _hot(solved, solved.alloy)
    limit = Limit("ligament_stress", text, "Pa", "clamped_strip", note=note, closes=_LINER)

    def compare(run: Run) -> Compared:
        s = run.stations
        dp = s["p_coolant_Pa"] - s["p_gas_Pa"]
        stress = strength.ligament_stress(dp, s["channel_width_m"], s["wall_m"])
        allowed, note = strength.allowed(solved.alloy, _wall_mean(run), solved.design.limits)
        return Compared(stress, allowed, None, note)

    return Rule(limit, compare)


def _ligament_proof(solved: Solved, tested: ProofOf) -> Rule:
    text = "hot wall over the channel at proof: channels with the bore empty, or the bore alone"
    note = _cold(solved.alloy)
    limit = Limit("ligament_proof", text, "Pa", "clamped_strip", note=note, closes=_LINER)

    def compare(run: Run) -> Compared:
        s, found = run.stations, tested(run)
        dp = np.maximum(found.channels, found.bore)[..., None]
        stress = strength.ligament_stress(dp, s["channel_width_m"], s["wall_m"])
        return _against_yield_at_proof(solved.alloy, stress, _pressures(found))

    return Rule(limit, compare)


def _pressures(tested: Proof) -> str:
    """Say the pressures of both tests, of one design."""
    if tested.channels.ndim or np.isnan(tested.channels):
        return ""
    part, ratio = tested.governs("channels")
    return (
        f"channels at {tested.channels / 1e5:.0f} bar, bore at {tested.bore / 1e5:.0f} bar"
        f" ({part}: yield cold over hot {ratio:.2f})"
    )


def _lands(solved: Solved) -> Rule:
    text = "lands at start: tension from the coolant's pressure, no gas pressure yet"
    note = _hot(solved, solved.alloy)
    limit = Limit("land_tension", text, "Pa", "land_equilibrium", note=note, closes=_LINER)

    def compare(run: Run) -> Compared:
        s = run.stations
        w, b = s["channel_width_m"], s["land_width_m"]
        stress = strength.land_tension(s["p_coolant_Pa"], w, b)
        allowed, said = strength.allowed(solved.alloy, s["T_wall_cold_K"], solved.design.limits)
        return Compared(stress, allowed, None, said)

    return Rule(limit, compare)


def _lands_proof(solved: Solved, tested: ProofOf) -> Rule:
    text = "lands at proof: tension, channels under pressure and the bore empty"
    note = _cold(solved.alloy)
    limit = Limit("land_proof", text, "Pa", "land_equilibrium", note=note, closes=_LINER)

    def compare(run: Run) -> Compared:
        return _against_yield_at_proof(solved.alloy, _land_tension(run, tested(run)))

    return Rule(limit, compare)


def _land_tension(run: Run, tested: Proof) -> Array:
    s = run.stations
    p = tested.channels[..., None]
    return strength.land_tension(p, s["channel_width_m"], s["land_width_m"])


def _bond(solved: Solved, tested: ProofOf) -> Rule:
    factor, bond = solved.design.limits.ultimate_factor, solved.design.closeout.bond_strength
    text = "bond of the lands to the closeout at proof, channels under pressure and the bore empty"
    note = (
        f"against closeout.bond_strength, {bond / 1e6:g} MPa, over {factor:g}: the shop's own"
        " coupons, plated in the same load, decide"
    )
    limit = Limit("bond_stress", text, "Pa", "land_equilibrium", note=note, closes=_LINER)

    def compare(run: Run) -> Compared:
        stress = _land_tension(run, tested(run))
        return Compared(stress, np.full(stress.shape, bond / factor))

    return Rule(limit, compare)


def _against_jacket(solved: Solved, jacket: AlloyCondition, stress: Array, T: Array) -> Compared:
    """Compare with the jacket's strength as it runs, or with a floor for it."""
    limits, low = solved.design.limits, sulfur_low(solved.design)
    found = strength.allowed_with_floor(jacket, T, limits, sulfur_low=low)
    return Compared(stress, found.value, None, found.note, found.indicative)


def _thickness(solved: Solved, made: Shell) -> Array:
    return np.full(made.T.shape, solved.design.closeout.jacket)


def _jacket(solved: Solved, jacket: AlloyCondition, of: ShellOf) -> Rule:
    text = "jacket as it runs: hoop from the coolant's pressure as if the bond were lost, and axial"
    note = (
        f"{_hot(solved, jacket)}; with the whole thrust at every section, either way, since the"
        " case does not say where the chamber is held; the jacket is as hot as the lands' tips"
    )
    limit = Limit("jacket_stress", text, "Pa", "ring_equilibrium", note=note, closes=_JACKET)

    def compare(run: Run) -> Compared:
        made = of(run)
        stress = made.running(_thickness(solved, made))
        return _against_jacket(solved, jacket, stress, made.T)

    return Rule(limit, compare)


def _roof(solved: Solved, jacket: AlloyCondition, of: ShellOf) -> Rule:
    text = "jacket over the slot as it runs: bending, the copper layer not credited"
    note = _hot(solved, jacket)
    limit = Limit("roof_bending", text, "Pa", "clamped_strip", note=note, closes=_JACKET)

    def compare(run: Run) -> Compared:
        made = of(run)
        stress = strength.bending_stress(made.p_coolant, made.w, _thickness(solved, made))
        return _against_jacket(solved, jacket, stress, made.T)

    return Rule(limit, compare)


def _jacket_proof(solved: Solved, jacket: AlloyCondition, of: ShellOf, tested: ProofOf) -> Rule:
    text = "jacket at proof: hoop as if the bond were lost, hoop and axial of the bore, or the roof"
    # what heat takes from the liner sets the pressure; the jacket is asked for its strength cold
    cold = strength.yield_with_floor(
        replace(jacket, beyond="nan"), np.array(T_PROOF), sulfur_low=sulfur_low(solved.design)
    )
    closes = _JACKET if np.isnan(cold.value) or cold.indicative else _LINER
    limit = Limit("jacket_proof", text, "Pa", "ring_equilibrium", note=_cold(jacket), closes=closes)

    def compare(run: Run) -> Compared:
        made, found = of(run), tested(run)
        t = _thickness(solved, made)
        roof = strength.bending_stress(found.channels[..., None], made.w, t)
        stress = np.maximum(made.proving(t, found), roof)
        cold = strength.yield_with_floor(
            jacket, np.array(T_PROOF), sulfur_low=sulfur_low(solved.design)
        )
        limit = np.broadcast_to(cold.value, stress.shape)
        doubtful = np.broadcast_to(cold.indicative, stress.shape)
        said = "; ".join(part for part in (found.left_out, cold.note) if part)
        return Compared(stress, limit, None, said, doubtful)

    return Rule(limit, compare)

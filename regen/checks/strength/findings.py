"""What the strength checks report beside margins: proof, structure, masses, growth, columns."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from regen.checks.findings import Assessed, Table, joined, peak, text
from regen.checks.mass import MassParts, mass_parts
from regen.checks.registry import registered, rules
from regen.checks.runs import Solved
from regen.checks.strength import strain, stresses
from regen.checks.strength.primary import PARTS
from regen.checks.strength.structure import jacket_needed, jacket_shell, proof_test
from regen.checks.verdict import relative
from regen.errors import RangeError
from regen.geometry.circuits import Path
from regen.metals.alloys import AlloyCondition
from regen.result import Array, Finding

PRIMARY = tuple(one.limit for one in registered("strength"))
"""Limits of primary stress; importing ``primary`` has registered them."""

LAYERS = ("liner", "jacket")

PROOF, STRUCTURE, MASS, GROWTH = map(Table, ("proof", "structure", "mass", "growth"))


def assess(solved: Solved, paths: tuple[Path, ...]) -> Assessed:
    """Return what the strength checks report of the nominal run of one design.

    Parameters
    ----------
    solved : Solved
        Solved runs with design and liner.
    paths : tuple of Path
        Its circuits.

    Returns
    -------
    Assessed
        What cannot be assessed has no value and says why.
    """
    masses, solved = tuple(_masses(mass_parts(solved.design, paths))), solved.quiet
    try:
        columns = _columns(solved)
    except RangeError as error:
        return Assessed((PROOF.finding("proof", note=str(error)), *masses), {})
    parts = (*_proof(solved), *_structure(solved, columns), *_strain(solved))
    return Assessed((*parts, *masses, *_growth(solved, columns)), columns)


def _columns(solved: Solved) -> dict[str, Array]:
    """Return the columns of the nominal run, metals read quietly."""
    run, made = solved.nominal, jacket_shell(solved, solved.nominal)
    proof_test(solved, run)  # raises where there is no yield at all
    ranged = strain.strain_range(solved, run)
    compared = {
        rule.limit.name: (rule.compare(run), rule.limit.kind) for rule in rules(solved, "strength")
    }
    return {
        "x_m": run.stations["x_m"],
        "T_jacket_K": made.T,
        **{f"{name}_Pa": one.value for name, (one, _) in compared.items()},
        **{f"margin_{name}": relative(one, kind) for name, (one, kind) in compared.items()},
        "jacket_hoop_gas_Pa": made.hoop(made.p_gas, made.t),
        "jacket_hoop_coolant_Pa": made.hoop(made.p_coolant, made.t),
        "jacket_axial_Pa": made.axial(made.p_gas, made.t) + made.axial_thrust(made.t),
        "jacket_needed_m": jacket_needed(solved, run).thickness,
        "thermal_strain_liner": _free(solved, solved.alloy, run.T_wall),
        "thermal_strain_jacket": _free(solved, solved.jacket, made.T),
        "strain_range": ranged.total,
        "strain_range_low": ranged.total_low,
        "strain_range_plastic": ranged.plastic,
    }


def _free(solved: Solved, metal: AlloyCondition, T: Array) -> Array:
    """Return the free strain since joining, or since rest (S,) [-], NaN where it is not known."""
    try:
        return strain.thermal_strain(metal, T, strain.joined_at(solved.design) or strain.REST)
    except RangeError:
        return np.full(T.shape, np.nan)


def _proof(solved: Solved) -> Iterator[Finding]:
    test, factor = proof_test(solved, solved.nominal), solved.design.limits.proof_factor
    unknown = ""
    if np.isnan(test.channels):
        unknown = f"the yield of {solved.alloy} is not tabulated where it runs hottest"
    for name, pressure in (("channels", test.channels), ("bore", test.bore)):
        note = unknown
        if not unknown:
            part, ratio = test.governs(name)
            parts = {"working": test.working[name] / 1e5, "ratio": ratio, "part": PARTS[part]}
            note = text("finding: proof pressure", factor=factor, **parts)
        yield PROOF.finding(f"pressure_{name}", float(pressure), note=note)
    for part in PARTS:
        ratio, why = float(test.ratios.get(part, np.nan)), ""
        if np.isnan(ratio):
            why = test.left_out if part == "jacket" else unknown
        yield PROOF.finding(f"ratio_{part}", ratio, note=why)


def _structure(solved: Solved, columns: Mapping[str, Array]) -> Iterator[Finding]:
    run, x, factor = solved.nominal, columns["x_m"], solved.design.limits.ultimate_factor
    made, needed = jacket_shell(solved, run), jacket_needed(solved, run)
    yield from _tightest(columns, x)
    for name in ("jacket_hoop_gas", "jacket_hoop_coolant", "jacket_axial"):
        yield STRUCTURE.greatest(name, columns[f"{name}_Pa"], x)
    yield STRUCTURE.finding("thrust", float(made.F))
    yield STRUCTURE.greatest("jacket_needed", needed.thickness, x, needed.note)
    top = peak(columns["bond_stress_Pa"], x)
    yield STRUCTURE.finding("bond_needed", top.value * factor, top.x, factor=f"{factor:g}")
    yield _collapse(solved)
    yield from _mismatch(solved, "run", run.T_wall, made.T)
    T_in = np.full(x.shape, solved.design.coolant.inlet_temperature)
    yield from _mismatch(solved, "chilled", T_in, T_in)


def _tightest(columns: Mapping[str, Array], x: Array) -> Iterator[Finding]:
    """Yield the primary stress with the least known margin."""
    least = [(peak(-columns[f"margin_{one.name}"], x), one) for one in PRIMARY]
    known = [(top, one) for top, one in least if top.row is not None]
    if known:
        top, one = max(known, key=lambda pair: pair[0].value)
        note = f"{-100.0 * top.value:+.0f} % to its limit; {one.equation}"
        stress = top.of(columns[f"{one.name}_Pa"])
        yield STRUCTURE.finding("tightest", stress, top.x, note, one.source, part=one.label)


def _collapse(solved: Solved) -> Finding:
    """Return the coolant pressure at which the liner collapses without its bond."""
    run, liner, name = solved.nominal, solved.alloy, "collapse_pressure"
    s = run.stations
    try:
        E, nu = (liner.value(n, run.T_wall).value for n in ("youngs_modulus", "poisson_ratio"))
    except RangeError as error:
        return STRUCTURE.finding(name, note=str(error))
    # round the ring the lands are stiff pieces in series with the hot wall over the channels
    ribbed = 1.0 + s["land_width_m"] / s["channel_width_m"]
    pressure = ribbed * stresses.collapse_pressure(E, s["wall_m"], s["r_m"], nu)
    top = peak(-pressure / s["p_coolant_Pa"], s["x_m"])
    return STRUCTURE.finding(name, top.of(pressure), top.x)


def _mismatch(solved: Solved, state: str, T_liner: Array, T_jacket: Array) -> Iterator[Finding]:
    """Yield the stress that liner and jacket put into each other in one state."""
    x, names = solved.nominal.stations["x_m"], [f"mismatch_{of}_{state}" for of in LAYERS]
    try:
        grown = strain.mismatch(solved, solved.nominal, T_liner, T_jacket)
    except RangeError as error:
        yield from (STRUCTURE.finding(name, note=str(error)) for name in names)
        return
    left_out, why = int(np.count_nonzero(~np.isfinite(grown.liner))), ""
    if left_out:
        why = f"{left_out} of {x.size} stations left out: expansion or strength not tabulated"
    note = joined(grown.note if left_out < x.size else "", why)
    for name, stress in zip(names, (grown.liner, grown.jacket), strict=True):
        top = peak(np.abs(stress), x)
        yield STRUCTURE.finding(name, top.of(stress), top.x, note)


def _strain(solved: Solved) -> Iterator[Finding]:
    ranged, x = strain.strain_range(solved, solved.nominal), solved.nominal.stations["x_m"]
    ranges = {"": ranged.total, "_low": ranged.total_low, "_plastic": ranged.plastic}
    for name, values in ranges.items():
        top, main = peak(values, x), not name
        notes = [ranged.note if main or top.row is None else "", ranged.held if main else ""]
        if top.row is not None:
            upper, lower = (strain.STATES[ends[top.row]] for ends in (ranged.upper, ranged.lower))
            notes.insert(0, f"between {upper} and {lower}")
        yield STRUCTURE.finding(f"strain_range{name}", 100.0 * top.value, top.x, joined(*notes))


def _masses(parts: MassParts) -> Iterator[Finding]:
    for name, value in parts._asdict().items():
        yield MASS.finding(name, float(value))
    yield MASS.finding("whole", float(sum(parts)))


def _growth(solved: Solved, columns: Mapping[str, Array]) -> Iterator[Finding]:
    x, jacket, T0 = columns["x_m"], solved.jacket, strain.joined_at(solved.design)
    since = f"{'joining' if T0 else 'rest'} at {T0 or strain.REST:.0f} K"
    for name in LAYERS:
        value, missing = strain.growth(columns[f"thermal_strain_{name}"], x)
        note = f"expansion is not tabulated at {missing} of {x.size} stations" if missing else ""
        yield GROWTH.finding(name, value, note=note, since=since)
    T_in = solved.design.coolant.inlet_temperature
    value, missing = strain.growth(_free(solved, jacket, np.full(x.shape, T_in)), x)
    note = f"expansion of {jacket} is not tabulated at {T_in:.0f} K" if missing else ""
    yield GROWTH.finding("jacket_chilled", value, note=note, T=f"{T_in:.0f} K", since=since)

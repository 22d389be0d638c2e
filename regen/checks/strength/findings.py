"""What the strength checks report beside margins: proof, structure, masses, growth, columns."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

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

PROOF, STRUCTURE, MASS, GROWTH = map(Table, ("proof", "structure", "mass", "growth"))


@dataclass(frozen=True, slots=True, eq=False)
class _Whole:
    """What the findings are read from: the nominal run of one design, metals read quietly."""

    solved: Solved
    columns: Mapping[str, Array]
    strain: strain.StrainRange
    needed: str
    T0: float

    @property
    def x(self) -> Array:
        return self.columns["x_m"]


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
    masses = tuple(_masses(mass_parts(solved.design, paths)))
    try:
        whole = _whole(solved.quiet)
    except RangeError as error:
        return Assessed((PROOF.finding("proof", note=str(error)), *masses), {})
    parts = (*_proof(whole), *_structure(whole), *_strain(whole), *masses, *_growth(whole))
    return Assessed(parts, whole.columns)


def _whole(solved: Solved) -> _Whole:
    design, run = solved.design, solved.nominal
    liner, jacket, made = solved.alloy, solved.jacket, jacket_shell(solved, run)
    proof_test(solved, run)  # raises where there is no yield at all
    T0 = strain.joined_at(design) or strain.REST
    ranged = strain.strain_range(design, liner, jacket, run)
    needed = jacket_needed(solved, run)
    compared = {
        rule.limit.name: (rule.compare(run), rule.limit.kind) for rule in rules(solved, "strength")
    }
    columns = {
        "x_m": run.stations["x_m"],
        "T_jacket_K": made.T,
        **{f"{name}_Pa": one.value for name, (one, _) in compared.items()},
        **{f"margin_{name}": relative(one, kind) for name, (one, kind) in compared.items()},
        "jacket_hoop_gas_Pa": made.hoop(made.p_gas, made.t),
        "jacket_hoop_coolant_Pa": made.hoop(made.p_coolant, made.t),
        "jacket_axial_Pa": made.axial(made.p_gas, made.t) + made.axial_thrust(made.t),
        "jacket_needed_m": needed.thickness,
        "thermal_strain_liner": _free(liner, run.T_wall, T0),
        "thermal_strain_jacket": _free(jacket, made.T, T0),
        "strain_range": ranged.total,
        "strain_range_low": ranged.total_low,
        "strain_range_plastic": ranged.plastic,
    }
    return _Whole(solved, columns, ranged, needed.note, T0)


def _free(metal: AlloyCondition, T: Array, T0: float) -> Array:
    try:
        return strain.thermal_strain(metal, T, T0)
    except RangeError:
        return np.full(T.shape, np.nan)


def _proof(whole: _Whole) -> Iterator[Finding]:
    solved = whole.solved
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


def _structure(whole: _Whole) -> Iterator[Finding]:
    solved, columns, x = whole.solved, whole.columns, whole.x
    made, factor = jacket_shell(solved, solved.nominal), solved.design.limits.ultimate_factor
    yield from _tightest(columns, x)
    for name in ("jacket_hoop_gas", "jacket_hoop_coolant", "jacket_axial"):
        yield STRUCTURE.greatest(name, columns[f"{name}_Pa"], x)
    note = "to vacuum, by pressure on injector and cooled wall; carried by every section"
    yield STRUCTURE.finding("thrust", float(made.F), note=note)
    yield STRUCTURE.greatest("jacket_needed", columns["jacket_needed_m"], x, whole.needed)
    top = peak(columns["bond_stress_Pa"], x)
    yield STRUCTURE.finding("bond_needed", top.value * factor, top.x, factor=f"{factor:g}")
    yield _collapse(whole)
    yield from _mismatch(whole, "run", solved.nominal.T_wall, made.T)
    T_in = np.full(x.shape, solved.design.coolant.inlet_temperature)
    yield from _mismatch(whole, "chilled", T_in, T_in)


def _tightest(columns: Mapping[str, Array], x: Array) -> Iterator[Finding]:
    """Yield the primary stress with the least known margin."""
    least = [(peak(-columns[f"margin_{one.name}"], x), one) for one in PRIMARY]
    known = [(top, one) for top, one in least if top.row is not None]
    if known:
        top, one = max(known, key=lambda pair: pair[0].value)
        note = f"{-100.0 * top.value:+.0f} % to its limit; {one.equation}"
        stress = top.of(columns[f"{one.name}_Pa"])
        tightest = STRUCTURE.finding("tightest", stress, top.x, note, part=one.label)
        yield replace(tightest, source=one.source)


def _collapse(whole: _Whole) -> Finding:
    """Return the coolant pressure at which the liner collapses without its bond."""
    run, liner = whole.solved.nominal, whole.solved.alloy
    s, name = run.stations, "collapse_pressure"
    try:
        E, nu = (liner.value(n, run.T_wall).value for n in ("youngs_modulus", "poisson_ratio"))
    except RangeError as error:
        return STRUCTURE.finding(name, note=str(error))
    # round the ring the lands are stiff pieces in series with the hot wall over the channels
    ribbed = 1.0 + s["land_width_m"] / s["channel_width_m"]
    pressure = ribbed * stresses.collapse_pressure(E, s["wall_m"], s["r_m"], nu)
    top = peak(-pressure / s["p_coolant_Pa"], whole.x)
    return STRUCTURE.finding(name, top.of(pressure), top.x, text("finding: collapse"))


def _mismatch(whole: _Whole, state: str, T_liner: Array, T_jacket: Array) -> Iterator[Finding]:
    """Yield the stress that liner and jacket put into each other in one state."""
    solved, x = whole.solved, whole.x
    names = (f"mismatch_liner_{state}", f"mismatch_jacket_{state}")
    try:
        both = (solved.alloy, solved.jacket)
        grown = strain.mismatch(solved.design, both, solved.nominal, T_liner, T_jacket)
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


def _strain(whole: _Whole) -> Iterator[Finding]:
    ranged = whole.strain
    for name in ("strain_range", "strain_range_low", "strain_range_plastic"):
        top, main = peak(whole.columns[name], whole.x), name == "strain_range"
        notes = [ranged.note if main or top.row is None else "", ranged.held if main else ""]
        if top.row is not None:
            upper, lower = (strain.STATES[ends[top.row]] for ends in (ranged.upper, ranged.lower))
            notes.insert(0, f"between {upper} and {lower}")
        yield STRUCTURE.finding(name, 100.0 * top.value, top.x, joined(*notes))


def _masses(parts: MassParts) -> Iterator[Finding]:
    for name, value in parts._asdict().items():
        yield MASS.finding(name, float(value))
    note = "cooled length alone: without ends, flanges, manifolds and coolant"
    yield MASS.finding("whole", float(sum(parts)), note=note)


def _growth(whole: _Whole) -> Iterator[Finding]:
    design, jacket, x = whole.solved.design, whole.solved.jacket, whole.x
    since = f"{'joining' if strain.joined_at(design) else 'rest'} at {whole.T0:.0f} K"
    for name, note in (("liner", ""), ("jacket", "the liner's pull on it is not counted")):
        value, missing = strain.growth(whole.columns[f"thermal_strain_{name}"], x)
        if missing:
            note = f"expansion is not tabulated at {missing} of {x.size} stations"
        yield GROWTH.finding(name, value, note=note, since=since)
    T_in = design.coolant.inlet_temperature
    value, missing = strain.growth(_free(jacket, np.full(x.shape, T_in), whole.T0), x)
    note = f"expansion of {jacket} is not tabulated at {T_in:.0f} K" if missing else ""
    yield GROWTH.finding("jacket_chilled", value, note=note, T=f"{T_in:.0f} K", since=since)

"""What the strength checks found beside margins: proof pressures, structure, masses, growth."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from regen.checks.mass import MassParts, mass_parts
from regen.checks.runs import Solved
from regen.checks.strength import rules as structure_rules
from regen.checks.strength import stresses as strength
from regen.checks.strength.mismatch import growth, joined_at, mismatch
from regen.checks.strength.proof import T_PROOF, Proof, proof
from regen.checks.strength.strain import REST, STATES, StrainRange, strain_range, thermal_strain
from regen.checks.strength.structure import Shell, jacket_needed, jacket_temperature, shell
from regen.checks.verdict import relative
from regen.errors import RangeError
from regen.geometry.circuits import Path
from regen.metals import selection as metals
from regen.metals.alloys import AlloyCondition
from regen.result import Array, Finding

PRIMARY = {
    "ligament_stress": "hot wall as it runs",
    "ligament_proof": "hot wall at proof",
    "land_tension": "lands at start",
    "land_proof": "lands at proof",
    "bond_stress": "bond of the lands at proof",
    "jacket_stress": "jacket as it runs",
    "roof_bending": "roof as it runs",
    "jacket_proof": "jacket at proof",
}
"""Limits of primary stress, and how they are spoken of: each part and its state."""

EQUATIONS = {
    **dict.fromkeys(("ligament_stress", "ligament_proof"), "dp w^2/(2 t^2), or sqrt(3) dp w/(2 t)"),
    **dict.fromkeys(("land_tension", "land_proof", "bond_stress"), "p w/b"),
    **dict.fromkeys(("jacket_stress", "jacket_proof"), "p r/t, with p r/(2 t) along the axis"),
    "roof_bending": "p w^2/(2 t^2)",
}

RING = "ring_equilibrium"
SOURCES = {
    name: "land_equilibrium" if name[:4] in ("land", "bond") else "clamped_strip"
    for name in PRIMARY
} | dict.fromkeys(("jacket_stress", "jacket_proof"), RING)

SPOKEN = {"ligament": "hot wall", "lands": "lands", "jacket": "jacket"}

COLUMNS: dict[str, str] = {
    "x_m": "axial position, throat at 0, injector side negative",
    "T_jacket_K": "jacket temperature: that of the lands' tips",
    "ligament_stress_Pa": "hot wall over the channel as it runs, bending or shear",
    "ligament_proof_Pa": "the same at proof",
    "land_tension_Pa": "tension of the lands at start",
    "land_proof_Pa": "tension of the lands at proof",
    "bond_stress_Pa": "tension of the lands' bond at proof",
    "jacket_stress_Pa": "jacket as it runs, hoop as if the bond were lost, and axial",
    "roof_bending_Pa": "jacket over the slot as it runs",
    "jacket_proof_Pa": "jacket at proof, the largest of shell and roof",
    **{f"margin_{name}": f"margin of the {text}" for name, text in PRIMARY.items()},
    "jacket_hoop_gas_Pa": "jacket hoop from the gas pressure alone, the normal case",
    "jacket_hoop_coolant_Pa": "jacket hoop from the coolant's pressure, as if the bond were lost",
    "jacket_axial_Pa": "jacket along the axis: closed bore and whole thrust",
    "jacket_needed_m": "least jacket thickness by all of these",
    "thermal_strain_liner": "free growth of the hot wall, run against joined",
    "thermal_strain_jacket": "free growth of the jacket, run against joined",
    "strain_range": "equivalent strain range of the hot wall in one firing, conservative",
    "strain_range_low": "the same, optimistic",
    "strain_range_plastic": "plastic part of the conservative range",
}
"""Columns of the strength checks; a value that is not known is NaN."""


@dataclass(frozen=True, slots=True, eq=False)
class Assessed:
    """Findings, and columns (S,) by the names of ``COLUMNS``, SI."""

    findings: tuple[Finding, ...]
    columns: Mapping[str, Array]


@dataclass(frozen=True, slots=True, eq=False)
class _Whole:
    """What the findings are read from: the nominal run of one design, metals asked for NaN."""

    solved: Solved
    liner: AlloyCondition
    jacket: AlloyCondition
    shell: Shell
    proof: Proof
    columns: Mapping[str, Array]
    strain: StrainRange
    needed: str
    T0: float

    @property
    def x(self) -> Array:
        return self.columns["x_m"]

    def peak(self, name: str) -> tuple[float | None, float | None]:
        """Return the largest value of a column and where it is; None where none is known."""
        return _highest(self.columns[name], self.x)


def _highest(values: Array, x: Array) -> tuple[float | None, float | None]:
    known = np.isfinite(values)
    if not known.any():
        return None, None
    at = int(np.argmax(np.where(known, values, -np.inf)))
    return float(values[at]), float(x[at])


def assess(solved: Solved, paths: tuple[Path, ...]) -> Assessed:
    """Return what the strength checks found in the nominal run of one design.

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
        whole = _whole(solved)
    except RangeError as error:
        text = "proof pressures, stress of the jacket and strain range"
        none = Finding("proof", "proof", text, None, "Pa", "proof_by_strength", note=str(error))
        return Assessed((none, *masses), {})
    found = (*_proof(whole), *_structure(whole), *_strain(whole), *masses, *_growth(whole))
    return Assessed(found, whole.columns)


def _whole(solved: Solved) -> _Whole:
    design, run = solved.design, solved.nominal
    liner, jacket = (replace(m, beyond="nan") for m in (solved.alloy, metals.jacket(design)))
    made = shell(design, run, jacket_temperature(design, liner, run))
    tested = proof(design.limits, liner, jacket, run, made.T)
    joined = joined_at(design)
    T0 = REST if joined is None else joined
    t = np.full(made.T.shape, design.closeout.jacket)
    strain = strain_range(design, liner, jacket, run)
    needed = jacket_needed(design, jacket, run)
    T_wall = 0.5 * (run.stations["T_wall_hot_K"] + run.stations["T_wall_cold_K"])
    found = {
        "x_m": run.stations["x_m"],
        "T_jacket_K": made.T,
        **dict(_primary(replace(solved, alloy=liner))),
        "jacket_hoop_gas_Pa": made.hoop(made.p_gas, t),
        "jacket_hoop_coolant_Pa": made.hoop(made.p_coolant, t),
        "jacket_axial_Pa": made.axial(made.p_gas, t) + made.axial_thrust(t),
        "jacket_needed_m": needed.thickness,
        "thermal_strain_liner": _free(liner, T_wall, T0),
        "thermal_strain_jacket": _free(jacket, made.T, T0),
        "strain_range": strain.total,
        "strain_range_low": strain.total_low,
        "strain_range_plastic": strain.plastic,
    }
    columns = {name: found[name] for name in COLUMNS}
    return _Whole(solved, liner, jacket, made, tested, columns, strain, needed.note, T0)


def _primary(solved: Solved) -> Iterator[tuple[str, Array]]:
    """Yield stress and margin along x of every limit of primary stress."""
    for limit, compare in structure_rules.rules(solved):
        if limit.name in PRIMARY:
            compared = compare(solved.nominal)
            yield f"{limit.name}_Pa", compared.value
            yield f"margin_{limit.name}", relative(compared, limit.kind)


def _free(metal: AlloyCondition, T: Array, T0: float) -> Array:
    try:
        return thermal_strain(metal, T, T0)
    except RangeError:
        return np.full(T.shape, np.nan)


def _proof(whole: _Whole) -> Iterator[Finding]:
    tested, factor = whole.proof, whole.solved.design.limits.proof_factor
    why = ""
    if np.isnan(tested.channels):
        why = f"the yield of {whole.solved.alloy} is not tabulated where it runs hottest"
    texts = {"channels": "channels under pressure, the bore empty", "bore": "the bore alone"}
    for test, pressure in (("channels", tested.channels), ("bore", tested.bore)):
        text, note = f"proof pressure, {texts[test]}, at {T_PROOF:.0f} K", why
        if not why:
            part, ratio = tested.governs(test)
            note = (
                f"{factor:g} x {tested.working[test] / 1e5:.1f} bar, the highest in operation, x"
                f" {ratio:.2f}, yield cold over hot of the {SPOKEN[part]}, which governs; by"
                " liquid, behind a barrier, by local rules"
            )
        value = None if why else float(pressure)
        yield Finding(
            "proof", f"pressure_{test}", text, value, "Pa", "proof_by_strength", None, note
        )
    for part, spoken in SPOKEN.items():
        value = float(tested.ratios.get(part, np.nan))
        known = None if np.isnan(value) else value
        note = "" if known else (tested.left_out if part == "jacket" else why)
        text = f"yield at proof over yield as it runs, {spoken}"
        yield Finding("proof", f"ratio_{part}", text, known, "-", "proof_by_strength", None, note)


def _structure(whole: _Whole) -> Iterator[Finding]:
    columns, solved = whole.columns, whole.solved
    least = {name: _highest(-columns[f"margin_{name}"], whole.x) for name in PRIMARY}
    judged = {name: (m, x) for name, (m, x) in least.items() if m is not None}
    if judged:
        name = max(judged, key=lambda key: judged[key][0])
        margin, x = judged[name]
        at = int(np.argmax(whole.x == x))
        text = f"primary stress nearest to its limit: {PRIMARY[name]}"
        note = f"{-100.0 * margin:+.0f} % to its limit; {EQUATIONS[name]}"
        stress = float(columns[f"{name}_Pa"][at])
        yield Finding("structure", "tightest", text, stress, "Pa", SOURCES[name], x, note)
    for name, text in (
        ("jacket_hoop_gas_Pa", "jacket hoop, normal case: gas pressure"),
        ("jacket_hoop_coolant_Pa", "jacket hoop, bond lost: coolant pressure"),
        ("jacket_axial_Pa", "jacket along the axis: closed bore and thrust"),
    ):
        value, x = whole.peak(name)
        yield Finding("structure", name.removesuffix("_Pa"), text, value, "Pa", RING, x)
    note = "to vacuum, by pressure on injector and cooled wall; carried by every section"
    F = float(whole.shell.F)
    yield Finding("structure", "thrust", "thrust counted on the jacket", F, "N", RING, None, note)
    value, x = whole.peak("jacket_needed_m")
    text = "jacket thickness that the primary stresses need, the largest along x"
    yield Finding("structure", "jacket_needed", text, value, "m", RING, x, whole.needed)
    yield from _bond_lost(whole)
    T_wall = 0.5 * sum(solved.nominal.stations[n] for n in ("T_wall_hot_K", "T_wall_cold_K"))
    yield from _mismatch(whole, "run", "as it runs", np.asarray(T_wall), whole.shell.T)
    T_in = np.full(whole.x.shape, solved.design.coolant.inlet_temperature)
    yield from _mismatch(whole, "chilled", "chilled down", T_in, T_in)


def _bond_lost(whole: _Whole) -> Iterator[Finding]:
    """Yield what the bond must hold, and what the liner would do without it."""
    s, solved = whole.solved.nominal.stations, whole.solved
    bond, x = whole.peak("bond_stress_Pa")
    factor = solved.design.limits.ultimate_factor
    text = f"bond strength that the lands need: tension at proof times {factor:g}"
    need = None if bond is None else bond * factor
    yield Finding("structure", "bond_needed", text, need, "Pa", "land_equilibrium", x)
    text = "liner collapses at this coolant pressure, if the bond is lost"
    try:
        T = 0.5 * (s["T_wall_hot_K"] + s["T_wall_cold_K"])
        E, nu = (whole.liner.value(n, T).value for n in ("youngs_modulus", "poisson_ratio"))
    except RangeError as error:
        none = Finding("structure", "collapse_pressure", text, None, "Pa", "ring_collapse")
        yield replace(none, note=str(error))
        return
    # round the ring the lands are stiff pieces in series with the hot wall over the channels
    ribbed = 1.0 + s["land_width_m"] / s["channel_width_m"]
    pressure = ribbed * strength.collapse_pressure(E, s["wall_m"], s["r_m"], nu)
    worst, x = _highest(-pressure / s["p_coolant_Pa"], whole.x)
    value = None if x is None else float(pressure[np.argmax(whole.x == x)])
    note = (
        "information only: it presupposes a bond that has failed. Elastic, two waves, a long ring;"
        " lands taken as rigid over their own width. The wall between sound lands does not collapse"
    )
    yield Finding("structure", "collapse_pressure", text, value, "Pa", "ring_collapse", x, note)


def _mismatch(
    whole: _Whole, name: str, spoken: str, T_liner: Array, T_jacket: Array
) -> Iterator[Finding]:
    solved, why = whole.solved, ""
    source = "layer_mismatch"
    texts = (
        ("liner", f"liner {spoken}: stress from unequal growth, at most its yield"),
        ("jacket", f"jacket {spoken}: stress that the liner's growth puts into it"),
    )
    try:
        found = mismatch(
            solved.design, (whole.liner, whole.jacket), solved.nominal, T_liner, T_jacket
        )
    except RangeError as error:
        for part, text in texts:
            none = Finding("structure", f"mismatch_{part}_{name}", text, None, "Pa", source)
            yield replace(none, note=str(error))
        return
    left_out = int(np.count_nonzero(~np.isfinite(found.liner)))
    if left_out:
        why = f"{left_out} of {whole.x.size} stations left out: expansion or strength not tabulated"
    rigid = found.note if left_out < whole.x.size else ""
    note = "; ".join(part for part in (rigid, why) if part)
    for (part, text), stress in zip(texts, (found.liner, found.jacket), strict=True):
        _, x = _highest(np.abs(stress), whole.x)
        value = None if x is None else float(stress[np.argmax(whole.x == x)])
        key = f"mismatch_{part}_{name}"
        yield Finding("structure", key, text, value, "Pa", source, x, note)


def _strain(whole: _Whole) -> Iterator[Finding]:
    strain = whole.strain
    for name, text, values in (
        ("strain_range", "strain range of the hot wall in one firing, conservative", strain.total),
        ("strain_range_low", "the same, optimistic", strain.total_low),
        ("strain_range_plastic", "plastic part of the conservative one", strain.plastic),
    ):
        value, x = _highest(values, whole.x)
        whole_range = name == "strain_range"
        notes = [
            strain.note if whole_range or x is None else "",
            strain.held if whole_range else "",
        ]
        if x is not None:
            at = int(np.argmax(whole.x == x))
            notes.insert(0, f"between {STATES[strain.upper[at]]} and {STATES[strain.lower[at]]}")
        note = "; ".join(part for part in notes if part)
        percent = None if value is None else 100.0 * value
        yield Finding("structure", name, text, percent, "%", "strain_range", x, note)


def _masses(parts: MassParts) -> Iterator[Finding]:
    texts = {
        "liner": "hot wall and lands",
        "copper": "copper layer of the closeout",
        "jacket": "jacket",
    }
    note = "cooled length alone: without ends, flanges, manifolds and coolant"
    for part, text in texts.items():
        value = float(getattr(parts, part))
        yield Finding("mass", part, text, value, "kg", "layer_mass")
    whole = float(parts.liner + parts.copper + parts.jacket)
    yield Finding("mass", "whole", "all of it", whole, "kg", "layer_mass", None, note)


def _growth(whole: _Whole) -> Iterator[Finding]:
    joined = joined_at(whole.solved.design)
    since = f"rest at {REST:.0f} K" if joined is None else f"joining at {joined:.0f} K"
    texts = {
        "liner": f"hot wall along x if it were free, run against {since}",
        "jacket": f"jacket along x if it were free, run against {since}; the chamber follows it",
    }
    source = "growth_along"
    for part, text in texts.items():
        strain = whole.columns[f"thermal_strain_{part}"]
        value, left_out = growth(strain, whole.x)
        note = "the liner's pull on it is not counted" if part == "jacket" else ""
        if left_out:
            note = f"expansion is not tabulated at {left_out} of {whole.x.size} stations"
        known = None if left_out else value
        yield Finding("growth", part, text, known, "m", source, None, note)
    T_in = whole.solved.design.coolant.inlet_temperature
    text = f"jacket along x, chilled down to {T_in:.0f} K, against {since}"
    strain = _free(whole.jacket, np.full(whole.x.shape, T_in), whole.T0)
    value, left_out = growth(strain, whole.x)
    note = f"expansion of {whole.jacket} is not tabulated at {T_in:.0f} K" if left_out else ""
    known = None if left_out else value
    yield Finding("growth", "jacket_chilled", text, known, "m", source, None, note)

"""Limits of primary stress, which decide: hot wall, lands, bond and jacket, hot and at proof."""

from __future__ import annotations

import numpy as np

from regen.checks.findings import joined, text
from regen.checks.registry import Fields, limit
from regen.checks.runs import Compared, Run, Solved, against
from regen.checks.strength import stresses
from regen.checks.strength.stresses import yield_with_floor
from regen.checks.strength.structure import T_PROOF, Proof, jacket_shell, proof_test
from regen.metals import selection as metals
from regen.metals.alloys import AlloyCondition
from regen.result import Array

PARTS = {"ligament": "hot wall", "lands": "lands", "jacket": "jacket"}
"""What the parts under proof are called."""


def _own(metal: AlloyCondition) -> str:
    return f"{metal}, as the case gives it," if "yield" in metal.given else str(metal)


def _hot(solved: Solved, metal: AlloyCondition) -> str:
    limits = solved.design.limits
    return text("row: hot strength", metal=_own(metal), limits=limits)


def _cold(metal: AlloyCondition) -> str:
    return f"against the yield of {_own(metal)} at {T_PROOF:.0f} K: a proof test leaves no set"


def _hot_liner(solved: Solved) -> Fields:
    return {"note": _hot(solved, solved.alloy)}


def _cold_liner(solved: Solved) -> Fields:
    return {"note": _cold(solved.alloy)}


def _against_hot_liner(solved: Solved, stress: Array, T: Array) -> Compared:
    allowed, note = stresses.allowed(solved.alloy, T, solved.design.limits)
    return Compared(stress, allowed, note=note)


def _against_cold_liner(solved: Solved, stress: Array, note: str = "") -> Compared:
    cold = solved.alloy.value("yield", T_PROOF)
    return against(stress, cold.value, note=joined(note, cold.note))


def _against_hot_jacket(solved: Solved, stress: Array, T: Array) -> Compared:
    """Compare with the jacket's strength in operation, or with a floor for it."""
    allowed = stresses.allowed_with_floor(solved.jacket, T, solved.design)
    return Compared(stress, allowed.value, note=allowed.note, indicative=allowed.indicative)


def ligament(run: Run, dp: Array) -> Array:
    """Return the stress of the hot wall over the channel from a pressure difference [Pa]."""
    return stresses.ligament_stress(dp, run.stations["channel_width_m"], run.stations["wall_m"])


def _lands(run: Run, p: Array) -> Array:
    s = run.stations
    return stresses.land_tension(p, s["channel_width_m"], s["land_width_m"])


@limit(
    _hot_liner,
    group="strength",
    unit="Pa",
    source="clamped_strip",
    key="limits.yield_factor",
    closes="liner.yield_strength",
)
def ligament_stress(solved: Solved, run: Run) -> Compared:
    """Hot wall over the channel in operation: pressure bending or shear."""
    return _against_hot_liner(solved, ligament(run, run.dp_wall), run.T_wall)


@limit(
    _cold_liner,
    group="strength",
    unit="Pa",
    source="clamped_strip",
    key="limits.proof_factor",
    closes="liner.yield_strength",
)
def ligament_proof(solved: Solved, run: Run) -> Compared:
    """Hot wall over the channel at proof: channels with the bore empty, or the bore alone."""
    test = proof_test(solved, run)
    stress = ligament(run, np.maximum(test.channels, test.bore)[..., None])
    return _against_cold_liner(solved, stress, _pressures(test))


def _pressures(test: Proof) -> str:
    """Say the pressures of both tests, of one design."""
    if test.channels.ndim or np.isnan(test.channels):
        return ""
    part, ratio = test.governs("channels")
    bars = {"channels": test.channels / 1e5, "bore": test.bore / 1e5}
    return text("row: proof", ratio=ratio, part=PARTS[part], **bars)


@limit(
    _hot_liner,
    group="strength",
    unit="Pa",
    source="land_equilibrium",
    key="limits.yield_factor",
    closes="liner.yield_strength",
)
def land_tension(solved: Solved, run: Run) -> Compared:
    """Lands at start: tension from the coolant's pressure, no gas pressure yet."""
    s = run.stations
    return _against_hot_liner(solved, _lands(run, s["p_coolant_Pa"]), s["T_wall_cold_K"])


@limit(
    _cold_liner,
    group="strength",
    unit="Pa",
    source="land_equilibrium",
    key="limits.proof_factor",
    closes="liner.yield_strength",
)
def land_proof(solved: Solved, run: Run) -> Compared:
    """Lands at proof: tension, channels under pressure and the bore empty."""
    return _against_cold_liner(solved, _lands(run, proof_test(solved, run).channels[..., None]))


def _bond_terms(solved: Solved) -> Fields:
    factor, bond = solved.design.limits.ultimate_factor, solved.design.closeout.bond_strength
    return {"note": text("row: bond", strength=bond / 1e6, factor=factor)}


@limit(
    _bond_terms,
    group="strength",
    unit="Pa",
    source="land_equilibrium",
    key="closeout.bond_strength",
    closes="liner.yield_strength",
)
def bond_stress(solved: Solved, run: Run) -> Compared:
    """Bond of the lands to the closeout at proof, channels under pressure and the bore empty."""
    design = solved.design
    stress = _lands(run, proof_test(solved, run).channels[..., None])
    return against(stress, design.closeout.bond_strength / design.limits.ultimate_factor)


def _jacket_terms(solved: Solved) -> Fields:
    return {"note": f"{_hot(solved, solved.jacket)}; {text('row: jacket')}"}


@limit(
    _jacket_terms,
    group="strength",
    unit="Pa",
    source="ring_equilibrium",
    key="limits.yield_factor",
    closes="closeout.jacket_yield_strength",
)
def jacket_stress(solved: Solved, run: Run) -> Compared:
    """Jacket in operation: hoop from the coolant's pressure as if the bond were lost, and axial."""
    made = jacket_shell(solved, run)
    return _against_hot_jacket(solved, made.running(made.t), made.T)


@limit(
    lambda solved: {"note": _hot(solved, solved.jacket)},
    group="strength",
    unit="Pa",
    source="clamped_strip",
    key="limits.yield_factor",
    closes="closeout.jacket_yield_strength",
)
def roof_bending(solved: Solved, run: Run) -> Compared:
    """Jacket over the slot in operation: bending, the copper layer not credited."""
    made = jacket_shell(solved, run)
    stress = stresses.bending_stress(made.p_coolant, made.w, made.t)
    return _against_hot_jacket(solved, stress, made.T)


def _jacket_proof_terms(solved: Solved) -> Fields:
    # what heat takes from the liner sets the pressure; the jacket must have its strength cold
    cold = yield_with_floor(solved.jacket.quiet, np.array(T_PROOF), solved.design)
    keys = metals.JACKET_KEYS if np.isnan(cold.value) or cold.indicative else metals.LINER_KEYS
    return {"note": _cold(solved.jacket), "closes": keys["yield"]}


@limit(
    _jacket_proof_terms,
    group="strength",
    unit="Pa",
    source="ring_equilibrium",
    key="limits.proof_factor",
)
def jacket_proof(solved: Solved, run: Run) -> Compared:
    """Jacket at proof: hoop as if the bond were lost, hoop and axial of the bore, or the roof."""
    made, test = jacket_shell(solved, run), proof_test(solved, run)
    roof = stresses.bending_stress(test.channels[..., None], made.w, made.t)
    cold = yield_with_floor(solved.jacket, np.array(T_PROOF), solved.design)
    stress = np.maximum(made.proving(made.t, test), roof)
    note = joined(test.left_out, cold.note)
    doubtful = np.broadcast_to(cold.indicative, stress.shape)
    return against(stress, cold.value, note=note, indicative=doubtful)

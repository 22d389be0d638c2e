"""The proof test: how high, cold, it must go to show that the hot parts are strong enough."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from regen.checks.runs import INJECTOR, Run
from regen.design import Limits
from regen.errors import RangeError
from regen.metals.alloys import AlloyCondition
from regen.result import Array

T_PROOF = 293.15
"""Temperature of the proof test [K]: common practice."""

UNDER = {"channels": ("ligament", "lands", "jacket"), "bore": ("ligament", "jacket")}
"""Parts that each test loads: channels with the bore empty, and the bore alone."""


@dataclass(frozen=True, slots=True, eq=False)
class Proof:
    """Pressures of both tests (...,) [Pa], and the strength cold over hot of each part [-].

    ``ratios`` has the parts whose strength is known in operation, (...,) each, at least 1 and the
    highest along x; ``left_out`` says of the others why not. ``working`` are the highest pressures
    in operation (...,) [Pa], of channels and bore.
    """

    channels: Array
    bore: Array
    ratios: Mapping[str, Array]
    working: Mapping[str, Array]
    left_out: str = ""

    def governs(self, test: str) -> tuple[str, float]:
        """Return the part with the largest ratio in one test of one design, and that ratio [-]."""
        known = {part: float(self.ratios[part]) for part in UNDER[test] if part in self.ratios}
        return max(known.items(), key=lambda pair: -np.inf if np.isnan(pair[1]) else pair[1])


def working(run: Run) -> dict[str, Array]:
    """Return the highest pressures in operation (...,) [Pa], of "channels" and "bore"."""
    s, totals = run.stations, run.totals
    inlet, face = (np.asarray(totals.get(k, 0.0)) for k in ("coolant_pressure_in_Pa", INJECTOR))
    return {
        "channels": np.maximum(s["p_coolant_Pa"].max(axis=-1), inlet),
        "bore": np.maximum(s["p_gas_Pa"].max(axis=-1), face),
    }


def proof(
    limits: Limits, liner: AlloyCondition, jacket: AlloyCondition, run: Run, T_jacket: Array
) -> Proof:
    """Return the pressures of the proof tests of a run.

    Parameters
    ----------
    limits : Limits
        Proof factor.
    liner, jacket : AlloyCondition
        Metals.
    run : Run
        Solved run, or many.
    T_jacket : ndarray
        Temperature of the jacket in operation (..., S) [K].

    Returns
    -------
    Proof
        Factor times the highest working pressure times the largest yield ratio, proof over
        operating, of the parts that the test loads; never less than the factor alone.

    Raises
    ------
    RangeError
        If the liner's yield is not tabulated, unless its ``beyond`` is "nan". A jacket whose hot
        yield is not tabulated is left out and named.

    Notes
    -----
    Source: proof_by_strength. The coolant's highest pressure is that of its inlet plenum, the
    bore's that at the injector face.
    """
    ratios = {
        "ligament": _ratio(liner, run.T_wall),
        "lands": _ratio(liner, run.stations["T_wall_cold_K"]),
    }
    counted, left_out = dict(ratios), ""
    try:
        ratios["jacket"] = _ratio(replace(jacket, beyond="nan"), T_jacket)
        if np.isnan(ratios["jacket"]).any():
            left_out = untabulated(jacket, T_jacket)
        # a jacket's ratio that is not known is left out; a liner's makes all unknown
        counted["jacket"] = np.nan_to_num(ratios["jacket"], nan=1.0)
    except RangeError as error:
        left_out = str(error)
    highest = working(run)
    pressures = {}
    for test, parts in UNDER.items():
        loaded = np.stack([counted[part] for part in parts if part in counted])
        pressures[test] = limits.proof_factor * highest[test] * loaded.max(axis=0)
    return Proof(**pressures, ratios=ratios, working=highest, left_out=left_out)


def untabulated(jacket: AlloyCondition, T: Array) -> str:
    """Say that the jacket's yield is not tabulated at its temperatures T [K], and what to do."""
    hot = np.asarray(T)[np.isnan(replace(jacket, beyond="nan").value("yield", T).value)]
    ends = jacket.table("yield").T[[0, -1]]
    spans = [
        f"{a:.0f} K" if round(a) == round(b) else f"{a:.0f} to {b:.0f} K"
        for a, b in ((hot.min(), hot.max()), (ends[0], ends[1]))
    ]
    return (
        f"yield of {jacket} at {spans[0]} is not tabulated (its table: {spans[1]}); give"
        " closeout.jacket_yield_strength at that temperature"
    )


def _ratio(metal: AlloyCondition, T: Array) -> Array:
    """Return yield at the proof test over yield in operation, the largest along x (...,) [-]."""
    cold = float(metal.value("yield", T_PROOF).value)
    return np.asarray(np.maximum((cold / metal.value("yield", T).value).max(axis=-1), 1.0))

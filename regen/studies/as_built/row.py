"""Slots side by side between the manifolds of one chamber: flows, marches and margins of each."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regen.checks import limits, shop_rules, verdict
from regen.checks.judge import for_limits, run_of
from regen.checks.life import assess as life
from regen.checks.registry import rules
from regen.checks.runs import Run
from regen.errors import RangeError
from regen.physics import arrays as A
from regen.physics import status as st
from regen.solver.models import ids
from regen.solver.solve import Solution, march
from regen.solver.worst_channel import shares_at_drop, slot_runs
from regen.studies.as_built.slot_verdict import Margins
from regen.studies.as_built.slots import MeasuredSlot, lay_slots

Array = NDArray[np.float64]

FLOW_TOLERANCE = 1e-5
"""Miss of the coolant's flow at which the common pressure drop is found [-]."""

MAX_DROPS = 12

DROP_EXPONENT = 1.9
"""Pressure drop goes about with this power of the flow [-]; only how fast the drop is found."""


@dataclass(frozen=True)
class Marched:
    """Slots that were marched: places and runs of those solved; why the others were not."""

    at: NDArray[np.int64]
    run: Run
    why: Mapping[int, str]

    def of_all(self, values: float | Array) -> Array:
        """Return values of the solved slots (..., n) as those of all (..., m), else NaN."""
        known = np.asarray(values)
        whole = np.full((*known.shape[:-1], len(self.at) + len(self.why)), np.nan)
        whole[..., self.at] = known
        return whole


@dataclass(frozen=True)
class SolvedRow:
    """M slots as measured and under the streak.

    ``summary`` (M,) [SI], NaN where not known; ``margins`` of each slot by limit.
    """

    summary: Mapping[str, Array]
    measured: Marched
    streak: Marched
    margins: Sequence[Mapping[str, Margins]]


class SlotRow:
    """Slots between the manifolds of one chamber; limits in ``left_out`` do not judge them."""

    def __init__(
        self,
        solution: Solution,
        slots: Sequence[MeasuredSlot],
        left_out: Collection[str],
        *,
        recut: bool = False,
    ) -> None:
        self.solution, self.slots = solution, tuple(slots)
        # what the shop can cut is asked of a drawing, not of slots that are there
        self.left_out = shop_rules.NAMES.union(left_out)
        self.laid = lay_slots(solution.prepared, slots, recut=recut)
        self.total = solution.nominal.circuit_totals()
        self.drop_drawn = float(self.total[0, A.T_P_IN] - self.total[0, A.T_P_OUT])
        self.models = np.repeat(ids(solution.models), len(slots))
        alike = np.ones(solution.prepared.design.channels.count)
        self.flow_split = alike if solution.split is None else solution.split.share
        numbers = np.array([slot.number for slot in slots])
        self.part = np.where(numbers > 0, self.flow_split[numbers - 1], 1.0)

    def runs(self, drop: float) -> NDArray[Any]:
        """Return a run a slot, at the mean flow, from the inlet at a drop [Pa]."""
        base = slot_runs(self.solution.prepared.run, self.total)
        if self.laid.design.coolant.outlet_pressure is not None:
            base["pressure"] = self.total[:, A.T_P_OUT] + drop
        runs = np.repeat(base, len(self.slots))
        runs["geometry"] = np.arange(len(self.slots))
        return runs

    def shares(self, drop: float, *, streak: bool = False) -> Array:
        """Return the flow of each slot over that of a slot as drawn, at a drop [Pa]; or NaN.

        Under the streak a slot takes less, and the lowest stable flow of several.
        """
        drops, runs = np.full(len(self.slots), drop), self.runs(drop)
        if streak:
            runs["gas_factor"] *= 1.0 + self.laid.design.shop.streak
        return shares_at_drop(self.laid, runs, self.models, drops, look=streak)

    def common_drop(self) -> tuple[float, Array, float]:
        """Return the drop [Pa] at which all slots pass the flow, and shares [-] there.

        Last comes the flow over the design's [-] at the drop as drawn. The first slot is that as
        drawn, and stands for those that were not measured.
        """
        whole, measured = float(self.flow_split.sum()), self.part[1:]
        drop, at_drawn = self.drop_drawn, 1.0
        for step in range(MAX_DROPS):
            share = self.shares(drop)
            each = np.where(np.isfinite(share[1:]), share[1:], share[0])
            rest = (whole - measured.sum()) * share[0]
            passed = float((measured * each).sum() + rest) / whole
            at_drawn = passed if step == 0 else at_drawn
            if not abs(passed - 1.0) > FLOW_TOLERANCE:
                break
            drop *= passed**-DROP_EXPONENT
        return drop, share, at_drawn

    def solve(self, drop: float, share: Array) -> SolvedRow:
        """March and judge every slot at a drop [Pa], at flows over that of a slot as drawn [-]."""
        shop = self.laid.design.shop
        short = 1.0 - shop.flow_shortfall if self.solution.split is None else 1.0
        under = self.shares(drop, streak=True)
        measured = self._march(drop, share, 1.0, 1.0)
        streak = self._march(drop, under, short, 1.0 + shop.streak)
        peak, own = "T_wall_hot_max_K", measured.run.totals
        summary = {
            "flow_over_mean": measured.of_all((share * self.part)[measured.at]),
            peak: measured.of_all(own[peak]),
            "x_T_wall_hot_max_m": measured.of_all(own["x_T_wall_hot_max_m"]),
            "T_wall_hot_max_streak_K": streak.of_all(streak.run.totals[peak]),
            "coolant_temperature_out_K": measured.of_all(own["coolant_temperature_out_K"]),
        }
        return SolvedRow(summary, measured, streak, self._margins(measured, streak))

    def _march(self, drop: float, share: Array, short: float, heat: float) -> Marched:
        """March all slots at factors on flow and heat; those whose flow was not found are lost."""
        runs, lost = self.runs(drop), ~np.isfinite(share)
        runs["flow_factor"] = np.where(lost, 1.0, share) * self.part * short
        runs["gas_factor"] *= heat
        marched = march(self.laid, runs[:, None], self.models)
        good = marched.ok & ~lost
        why = {int(n): st.TEXTS[int(marched.code[n])].what for n in np.flatnonzero(~good)}
        why |= {int(n): "no flow at the common pressure drop" for n in np.flatnonzero(lost)}
        at = np.flatnonzero(good)
        run = run_of(self.laid.taken(at), marched[at])
        # the manifolds' pressures are those of all slots, whatever flow one of them has
        inlet = float(runs["pressure"][0])
        shared = {"in": inlet, "out": inlet - drop, "drop": drop}
        common = {f"coolant_pressure_{k}_Pa": np.full(at.size, p) for k, p in shared.items()}
        return Marched(at, replace(run, totals={**run.totals, **common}), why)

    def _margins(self, measured: Marched, streak: Marched) -> list[dict[str, Margins]]:
        """Return the margins of each slot by limits that decide."""
        solved = for_limits(self.laid, measured.run, worst=(streak.run,)).quiet
        margins: list[dict[str, Margins]] = [{} for _ in self.slots]
        for limit, compare in rules(solved):
            if limit.informative or limit.name in self.left_out:
                continue
            own, under = (
                verdict.column(*limits.along(limit, compare, marched.run))
                for marched in (measured, streak)
            )
            x = measured.run.stations["x_m"][np.arange(own.at.size), own.at]
            each = measured.of_all(np.stack([own.margin, np.where(own.at < 0, np.nan, x)]))
            columns = each[0], streak.of_all(under.margin), each[1]
            for of_slot, values in zip(margins, np.stack(columns, axis=-1).tolist(), strict=True):
                of_slot[limit.name] = Margins(*values)
        return margins

    def lives(self, measured: Marched) -> tuple[dict[str, Array], str]:
        """Return lives (M,) [firings], NaN where not known, and why there are none."""
        solved, none = for_limits(self.laid, measured.run).quiet, ""
        known = dict.fromkeys(("conservative", "optimistic"), np.array(np.nan))
        try:
            lives = life.lives(solved, measured.run)
            known = {basis: life.of_part(getattr(lives, basis), lives.asked) for basis in known}
        except RangeError as error:
            none = str(error)
        return {f"life_{k}_firings": measured.of_all(least) for k, least in known.items()}, none

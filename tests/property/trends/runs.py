"""Designs of the box, solved, and their changed siblings."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from regen.checks.stations import peak_at
from regen.design import Design, Profile
from regen.errors import GeometryError, RangeError
from regen.geometry.circuits import geometry_of, joined_passage, lay_paths
from regen.physics import arrays as A
from regen.physics import status as st
from regen.solver.prepare import Prepared, prepare
from regen.solver.solve import Marched, MarchError, nominal_by_rule
from tests.property.trends import box

Array = np.ndarray

REFUSED = (MarchError, RangeError, GeometryError)
MELTS = "hot wall would melt"


@dataclass(frozen=True)
class Run:
    """A solved design: station columns (S,) by rising x, correlations by role."""

    prepared: Prepared
    marched: Marched
    models: dict[str, str]

    @classmethod
    def of(cls, prepared: Prepared) -> Run:
        """Solve what is prepared."""
        run, models, _ = nominal_by_rule(prepared)
        return cls(prepared, run, dict(models))

    def column(self, field: int) -> Array:
        return self.marched.station[:, field]

    def flag(self, i: int, flag: int) -> bool:
        return bool(int(self.marched.station[i, A.O_FLAGS]) & flag)

    @property
    def held_as_dense(self) -> Array:
        """True where the wall just below the critical pressure is that of the dense fluid (S,)."""
        return (self.column(A.O_FLAGS).astype(np.int64) & A.FLAG_NEAR_CRITICAL) > 0

    @property
    def x(self) -> Array:
        return self.prepared.passage.x

    @property
    def throat(self) -> int:
        return int(np.argmin(np.abs(self.x)))

    @property
    def drop(self) -> float:
        total = self.marched.total
        return float(total[A.T_P_IN] - total[A.T_P_OUT])

    def highest(self, field: int) -> float:
        """Return the peak of a column, as a result has it."""
        return float(peak_at(self.prepared, self.marched.station, field)[0])


@dataclass(frozen=True)
class Case:
    """A design of the box that solves."""

    draw: int
    run: Run

    @property
    def design(self) -> Design:
        return self.run.prepared.design

    def solve(self, design: Design) -> Run:
        """Solve another design from nothing."""
        return Run.of(prepare(design))

    def with_slots(self, design: Design, **fields: float) -> Run:
        """Solve a design that differs in what lies outside the hot gas alone."""
        before = self.run.prepared
        paths = lay_paths(design, before.contour)
        run = before.run.copy()
        if design.coolant.mass_flow is not None:
            run["mass_flow"] = design.coolant.mass_flow
        else:
            run["fuel_share"] *= design.coolant.fuel_fraction / self.design.coolant.fuel_fraction
        run["pressure"] = design.coolant.inlet_pressure
        run["roughness"] = design.channels.roughness
        for name, value in fields.items():
            run[name] = value
        prepared = replace(
            before,
            designs=(design,),
            paths=paths,
            passage=joined_passage(paths, before.rows),
            geometry=geometry_of(design, paths),
            run=run,
        )
        return Run.of(prepared)


def attempt(draw: int) -> Case | str:
    """Return the solved draw, or the status that stopped it in words."""
    design = box.design(draw)
    try:
        run = Run.of(prepare(design))
    except MarchError as error:
        return error.status
    except GeometryError:
        return "impossible geometry"
    except RangeError as error:
        return f"refused: {str(error).split(':')[0]}"
    if run.column(A.O_T_WALL_HOT).max() > box.melts(design):
        return MELTS
    return Case(draw, run)


def cases(wanted: int, stopped: Counter[str]) -> Iterator[Case]:
    """Yield designs that solve; ``stopped`` counts the draws that do not, by status."""
    draw = found = 0
    while found < wanted:
        case = attempt(draw)
        if isinstance(case, Case):
            found += 1
            yield case
        else:
            stopped[case] += 1
        draw += 1


def times(profile: Profile, factor: float) -> Profile:
    """Return a profile with every value multiplied."""
    return Profile(profile.x, tuple(factor * value for value in profile.value))


def with_flow(design: Design, factor: float) -> Design:
    """Return the design with more coolant."""
    feed = design.coolant
    flow = feed.mass_flow and factor * feed.mass_flow
    share = feed.fuel_fraction and factor * feed.fuel_fraction
    return replace(design, coolant=replace(feed, mass_flow=flow, fuel_fraction=share))


def with_channels(design: Design, **changes: object) -> Design:
    return replace(design, channels=replace(design.channels, **changes))


def with_models(design: Design, **changes: object) -> Design:
    return replace(design, models=replace(design.models, **changes))


def status_of(error: Exception) -> str:
    """Return what stopped a changed design, in words."""
    return error.status if isinstance(error, MarchError) else type(error).__name__


KNOWN_STATUS = {text.name for text in st.TEXTS.values()}

"""A chamber in closed form, for tests of sizing: constant properties, one friction factor.

Wall temperature T_BULK + q (1/h + wall/k) with h = C v^0.8 Dh^-0.2, pressure drop
f (L/Dh) rho v^2/2.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from regen.case.read import load_case
from regen.design import Design, Profile
from regen.geometry.channels import Passage
from regen.studies.batch.designs import DesignBatch, Rows
from regen.studies.batch.rows import blank
from tests.helpers.places import WATER

FLOW, RHO, FRICTION, LENGTH = 0.6, 1000.0, 0.02, 0.12
C, T_BULK, FLUX, CONDUCTIVITY = 2650.0, 300.0, 1.5e7, 350.0
DENSE = 9000.0
ROUNDOFF = 1e-9

Array = NDArray[np.float64]


def chamber(*overrides: str) -> Design:
    """Return the design of the water-cooled test chamber with slots of one width."""
    given = ("channels.width=1.0 mm", "sizing.held_at=nominal channel", *overrides)
    return load_case(WATER, given).design


def speed(count: Array, width: Array, depth: Array) -> Array:
    """Return the coolant's speed [m/s]."""
    return np.asarray(FLOW / (RHO * count * width * depth))


def hydraulic(width: Array, depth: Array) -> Array:
    """Return the hydraulic diameter [m]."""
    return np.asarray(2.0 * width * depth / (width + depth))


def drop(count: Array, width: Array, depth: Array) -> Array:
    """Return the pressure drop [Pa]."""
    v = speed(count, width, depth)
    return np.asarray(FRICTION * LENGTH / hydraulic(width, depth) * RHO * v**2 / 2.0)


def wall_temperature(count: Array, width: Array, depth: Array, wall: Array) -> Array:
    """Return the hot-wall temperature [K]."""
    h = C * speed(count, width, depth) ** 0.8 * hydraulic(width, depth) ** -0.2
    return np.asarray(T_BULK + FLUX * (1.0 / h + wall / CONDUCTIVITY))


@dataclass
class Model:
    """Solves batches in closed form and counts what it was asked.

    Every slot size is constant along x but the depth, which is taken station by station.
    ``T_limit`` [K] holds where ``hot`` says, by x; ``drop_limit`` [Pa] everywhere. ``unsolved``
    tells from (count, least width, least depth, wall) which rows are reported as not solved; they
    keep their numbers, which only their status forbids to use.
    ``worst`` [K] is what the worst channel's wall is hotter by, NaN for one not evaluated.
    """

    T_limit: float = 2000.0
    drop_limit: float = 1e12
    hot: Callable[[Array], Array] = lambda x: np.ones(x.size, dtype=bool)
    unsolved: Callable[..., Array] | None = None
    worst: float = 0.0
    calls: int = 0
    rows: int = 0

    def __call__(self, batch: DesignBatch, **_: object) -> Rows:
        """Return the rows of a batch, as solve_batch does."""
        self.calls, self.rows = self.calls + 1, self.rows + len(batch)
        slots = _passage(batch.design)
        x = slots.x
        count = sizes(batch, "channels.count", x)[:, :1]
        width, depth = sizes(batch, "channels.width", x), sizes(batch, "channels.depth", x)
        wall = sizes(batch, "liner.wall", x)
        T = wall_temperature(count, width, depth, wall)
        dp = drop(count, width, depth).mean(axis=1)
        margin = np.where(self.hot(x), 1.0 - T / self.T_limit, np.inf)
        left = np.broadcast_to((1.0 - dp / self.drop_limit)[:, None], T.shape)
        rows = blank(len(batch), "worst")
        rows.summary["T_wall_hot_max_K"][:] = T.max(axis=1)
        rows.summary["coolant_pressure_drop_Pa"][:] = dp
        rows.summary["mass_cooled_kg"][:] = DENSE * (wall + depth).mean(axis=1)
        worst = margin - self.worst / self.T_limit
        along = {
            "hot_wall_temperature": {"nominal": margin, "worst_channel": worst},
            "injector_pressure": {"nominal": left, "worst_channel": left},
            # the floor lies off the contour by the wall, square to it
            "land_width": {
                "nominal": (
                    2.0 * np.pi * (slots.r + wall * np.cos(slots.slope_angle)) / count - width
                )
                / batch.design.shop.least_land
                - 1.0
                + ROUNDOFF
            },
        }
        rows.margins_along.update(along)
        for name, runs in along.items():
            rows.margins[name] = {run: m.min(axis=1) for run, m in runs.items()}
        rows.status[:] = "solved"
        if self.unsolved is not None:
            bad = self.unsolved(count[:, 0], width.min(axis=1), depth.min(axis=1), wall[:, 0])
            rows.status[bad] = "choked"  # with numbers that tempt all the same
        return rows


def _passage(design: Design) -> Passage:
    """Return slots of the chamber, of which the contour's own columns are taken."""
    from regen.solver.prepare import prepare

    key = design.models.stations
    if key not in _KNOWN:
        _KNOWN[key] = prepare(design).passage
    return _KNOWN[key]


_KNOWN: dict[int, Passage] = {}


def sizes(batch: DesignBatch, path: str, x: Array) -> Array:
    """Return one size of every row at the stations (L, S), read off the batch's own table."""
    section, _, name = path.partition(".")
    own = getattr(getattr(batch.design, section), name)
    at: Sequence[float] = own.x if isinstance(own, Profile) else (0.0,)
    value = own.value if isinstance(own, Profile) else (float(own),)
    table = np.repeat(np.array([value], dtype=float), len(batch), axis=0)
    for k, key in enumerate(batch.keys):
        if key.path == path:
            if key.point is None:
                table, at = batch.values[:, [k]], (0.0,)
            else:
                table[:, key.point] = batch.values[:, k]
    return np.array([np.interp(x, at, row) for row in table])

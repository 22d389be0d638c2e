"""What the figures of a sweep share: the grid of two keys as arrays, the wall's limit, words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from regen.output.figures.style import RED, folded
from regen.output.sweep_digest import WALL, Digest
from regen.result import Array
from regen.studies.batch.parameters import Parameter

BAR = 1e-5
"""Bar in a pascal."""

WALL_LABEL = "peak hot-wall temperature [K]"
DROP_LABEL = "coolant pressure drop [bar]"

SAME_LIMIT = 1e-3
"""Relative spread of the wall's limit over the rows below which it is one line [-]."""


@dataclass(frozen=True)
class Grid:
    """Drawn rows over two keys: rising values as shown, and the place of each row (y, x)."""

    x_key: Parameter
    y_key: Parameter
    x: Array
    y: Array
    place: NDArray[np.int64]

    @classmethod
    def of(cls, digest: Digest) -> Grid | None:
        """Return the grid of a sweep of two keys, None for any other."""
        plan = digest.plan
        if len(plan.parameters) != 2 or plan.table is not None:
            return None
        x_key, y_key = plan.parameters
        columns = [digest.sample[key.column] for key in plan.parameters]
        (x, nx), (y, ny) = (np.unique(column, return_inverse=True) for column in columns)
        place = np.zeros((len(y), len(x)), dtype=np.int64)
        place[ny, nx] = np.arange(len(nx))
        a, b = (np.array([k.shown(v) for v in c]) for k, c in ((x_key, x), (y_key, y)))
        return cls(x_key, y_key, a, b, place)

    def field(self, column: Any) -> Any:
        """Return a column of the drawn rows as (y, x) [any]."""
        return np.asarray(column)[self.place]

    def turned(self) -> Grid:
        """Return the same grid with the keys changed over."""
        return Grid(self.y_key, self.x_key, self.y, self.x, self.place.T)


def solved_of(digest: Digest) -> NDArray[np.bool_]:
    """Return which of the drawn rows were solved [-]."""
    return np.asarray(digest.sample["status"] == "solved")


def wall_limit(digest: Digest) -> float | None:
    """Return the limit of the hot wall [K], None if there is none or rows differ in it."""
    if "hot_wall_temperature" not in digest.limits:
        return None
    # margin = (limit - T)/limit, at the hottest place
    limit = digest.sample[WALL] / (1.0 - digest.margin("hot_wall_temperature"))
    known = limit[np.isfinite(limit)]
    if not known.size or np.ptp(known) > SAME_LIMIT * known.max():
        return None
    return float(np.median(known))


def limit_line(ax: Axes, limit: float | None) -> None:
    """Draw the limit of the wall [K], if it is one and not far above everything else."""
    low, high = ax.get_ylim()
    if limit is None or limit > high + (high - low):
        return
    ax.axhline(limit, color=RED, lw=1.2, ls=(0, (8, 2, 1, 2)))
    ax.annotate(
        f"limit {limit:.0f} K",
        (1.0, limit),
        (-4, 3),
        xycoords=("axes fraction", "data"),
        textcoords="offset points",
        ha="right",
        va="bottom",
        color=RED,
        fontsize=8,
    )


def note_below(digest: Digest) -> str:
    """Return what must be known of a figure, for below it."""
    kept = f"every limit kept (nominal) by {digest.kept}"
    said = [f"{digest.rows} designs, {digest.solved} solved; {kept}."]
    if digest.thinned:
        drawn = len(digest.sample["row"])
        said.append(f"{drawn} of the designs are drawn, evenly chosen; the front is from all.")
    if digest.judged == "nominal":
        said.append("Nominal channel alone: neither band nor worst channel was judged.")
    elif digest.judged == "worst":
        said.append("The band was not judged.")
    return folded(" ".join(said))

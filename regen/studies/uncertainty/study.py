"""Uncertainty of a design: probability of keeping each limit, bands along x, what matters most."""

# ruff: noqa: EM101, EM102 - these messages are read by people, never in a traceback

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from time import perf_counter
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regen.checks import limits
from regen.checks.coolant import facts_of
from regen.checks.registry import rules
from regen.checks.review import PACKAGES
from regen.checks.runs import Run, Solved
from regen.checks.shop_rules import LAND, as_made
from regen.checks.verdict import column
from regen.design import Design
from regen.errors import CaseError, Problem
from regen.metals import selection as metals
from regen.result import Result
from regen.solver.prepare import prepare
from regen.sources import read_data
from regen.storage.cache import made_with
from regen.studies.batch.designs import DesignBatch, Rows
from regen.studies.batch.rows import joined
from regen.studies.uncertainty.distributions import Input
from regen.studies.uncertainty.indices import SOURCES, Indices, indices, saltelli, wilson

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Model = Callable[..., Rows]
"""Solves the nominal channels of a batch, and keeps columns ``along`` x if asked."""
Progress = Callable[[int, int], None]

TEXTS = read_data("studies.toml")["uncertainty"]

PART = 512
"""Designs solved between two reports of progress; rows do not depend on it."""

LEAST_SAMPLES, MOST_SAMPLES = 16, 65536
LONG = 60.0
"""A longer study comes with advice how to shorten it [s]."""

QUICK = 4.0
"""Where the least sample takes no longer, a larger one is timed too [s]."""

MOST_DESIGNS = 300_000
"""Designs of one study: a table of more can hardly be read."""

LEAST_MARGIN = "least_margin"
OUTPUTS = (
    "T_wall_hot_max_K",
    "coolant_pressure_drop_Pa",
    "coolant_temperature_out_K",
    "q_max_W_m2",
    LEAST_MARGIN,
)
"""Outputs of interest; the least margin is that over the limits that decide."""

QUANTILES = (0.05, 0.25, 0.5, 0.75, 0.95)

EVERY = "every limit"
EVERY_KEPT = "every_limit_kept"
"""Output that is 1 where every limit is kept, else 0: also what is not solved has it, so that its
indices rest on every design."""


@dataclass(frozen=True, slots=True)
class Kept:
    """How often one limit was kept among ``count`` designs, and the probability with its ends [-].

    What is not solved or not evaluated is not kept; both are numbers of designs.
    """

    limit: str
    kept: int
    broken: int
    not_evaluated: int
    not_solved: int
    informative: bool
    low: float
    high: float

    @property
    def count(self) -> int:
        """Number of designs counted [-]."""
        return self.kept + self.broken + self.not_evaluated + self.not_solved

    @property
    def known(self) -> bool:
        """False where it could be evaluated for no design: then no probability is known."""
        return self.kept + self.broken > 0 or not self.not_evaluated

    @property
    def probability(self) -> float:
        """Share of designs that kept the limit [-]."""
        return self.kept / self.count


@dataclass(frozen=True)
class Along:
    """Hot-wall temperature at ``QUANTILES`` (Q, S) [K] over stations ``x`` (S,) [m].

    Infinite where as large a share of the designs is not solved. ``how`` says what was done
    where the stations of designs differ, "" where they do not.
    """

    x: Array
    T_wall_hot: Array
    how: str


@dataclass(frozen=True)
class Uncertainty:
    """A study: inputs, every design, and what they say.

    The first ``2 * samples`` designs of ``batch`` and ``rows`` are the two base samples, which
    are counted; the others, each with one input changed, serve the indices alone. ``indices`` are
    those of ``OUTPUTS`` and of ``EVERY_KEPT``. ``outputs`` are NaN where there is no number.
    """

    title: str
    inputs: tuple[Input, ...]
    left_out: tuple[str, ...]
    samples: int
    seed: int
    batch: DesignBatch
    rows: Rows
    outputs: Mapping[str, Array]
    kept: tuple[Kept, ...]
    quantiles: Mapping[str, Array]
    indices: Mapping[str, Indices]
    along: Along | None
    nominal: Result | None
    provenance: Mapping[str, Any] = field(default_factory=dict)

    @property
    def base(self) -> int:
        """Number of designs that are counted."""
        return 2 * self.samples


def check_samples(samples: int, inputs: int) -> None:
    """Raise ``CaseError`` if the number of samples is no power of two, too small or too large."""
    most = MOST_SAMPLES
    while most * (inputs + 2) > MOST_DESIGNS:
        most //= 2
    accepted = f"a power of two from {LEAST_SAMPLES} to {most} (with {inputs} inputs)"
    powers = [1 << n for n in range(most.bit_length())]
    if samples in powers and samples >= LEAST_SAMPLES:
        return
    which = "few" if samples < LEAST_SAMPLES else "many" if samples > most else "power"
    near = min(powers, key=lambda power: abs(power - samples))
    designs, top = samples * (inputs + 2), MOST_DESIGNS
    places = {"least": LEAST_SAMPLES, "designs": designs, "top": top, "most": most, "near": near}
    what, do = (text.format(**places) for text in TEXTS["samples"][which])
    raise CaseError("uncertainty", [Problem("--samples", what, str(samples), accepted, do)])


def study(
    design: Design,
    inputs: tuple[Input, ...],
    model: Model,
    *,
    samples: int,
    seed: int,
    left_out: tuple[str, ...] = (),
    nominal: Result | None = None,
    case_hash: str = "",
    progress: Progress | None = None,
) -> Uncertainty:
    """Sample the inputs of a design, solve every design, and count.

    Parameters
    ----------
    design : Design
        The case's own.
    inputs : tuple of Input
        What varies, each independent of the others.
    model : callable
        Solves a batch; called in parts.
    samples : int
        Base points, a power of two; ``samples * (inputs + 2)`` designs are solved [-].
    seed : int
        Of points and bootstrap; the same seed gives the same study [-].
    left_out, nominal, case_hash
        Kept for the record: usual inputs that were left out, the case's own design, solved, and
        the hash of the case file.
    progress : callable, optional
        Receives how many designs are done, of how many.
    """
    check_samples(samples, len(inputs))
    batch = batch_of(design, inputs, saltelli(len(inputs), samples, seed))
    made, stations = _solved(batch, model, 2 * samples, progress)
    summary = made.summary | {LEAST_MARGIN: made.least_margin()}
    outputs = {name: summary[name] for name in OUTPUTS}
    rows, base = _judged_by_drawing(made, design), slice(0, 2 * samples)
    varying = {**outputs, EVERY_KEPT: rows.nominal_kept.astype(np.float64)}
    blocks = {name: values.reshape(-1, samples) for name, values in varying.items()}
    return Uncertainty(
        title=design.title,
        inputs=inputs,
        left_out=left_out,
        samples=samples,
        seed=seed,
        batch=batch,
        rows=rows,
        outputs=outputs,
        kept=tuple(_kept(rows, base)),
        quantiles={name: quantiles(values[base], name) for name, values in outputs.items()},
        indices={name: indices(f[0], f[1], f[2:], seed) for name, f in blocks.items()},
        along=along(stations.x, stations.along.get("T_wall_hot_K"), nominal),
        nominal=nominal,
        provenance={
            **made_with(*PACKAGES, "scipy"),
            "case_sha256": case_hash,
            "sources": sorted({*SOURCES, *(nominal.provenance["sources"] if nominal else ())}),
        },
    )


def chance(
    design: Design, inputs: tuple[Input, ...], model: Model, *, samples: int, seed: int
) -> Kept:
    """Return how often every limit is kept by ``2 * samples`` designs, without any indices."""
    base = 2 * samples
    batch = batch_of(design, inputs, saltelli(len(inputs), samples, seed)[:base])
    made, _ = _solved(batch, model, base)
    return next(_kept(_judged_by_drawing(made, design), slice(0, base)))


def batch_of(design: Design, inputs: tuple[Input, ...], points: Array) -> DesignBatch:
    """Return the designs at points (L, inputs) of the unit cube."""
    parameters, columns, models = [], [], {}
    for one, u in zip(inputs, points.T, strict=True):
        if one.parameter is None:
            models[one.role] = one.named(u)
        else:
            parameters.append(one.parameter)
            columns.append(one.values(u))
    values = np.stack(columns, axis=1) if columns else np.empty((len(points), 0))
    return DesignBatch(design, tuple(parameters), values, models or None)


def cost_text(samples: int, inputs: int, seconds: float) -> str:
    """Return what a study will take, with what halves it where it is long."""
    time = f"{seconds / 60.0:.0f} min" if seconds > 120.0 else f"{max(seconds, 1.0):.0f} s"
    designs = f"{samples * (inputs + 2)} designs, a march each"
    text = f"{designs} ({samples} base points, {inputs} inputs): about {time} here"
    if seconds > LONG and samples > LEAST_SAMPLES:
        text += f"; --samples {samples // 2} takes half of it"
    return text


def seconds_needed(
    design: Design, inputs: tuple[Input, ...], model: Model, *, samples: int, seed: int
) -> float:
    """Estimate what a study will take [s] from the time of a few of its designs.

    The first designs are left out of the time: they wait for tables and the compiler. Where a few
    are quick, more are timed too, to separate the cost of a part from that of each design.
    """
    batch = batch_of(design, inputs, saltelli(len(inputs), samples, seed))

    def spent(start: int, stop: int) -> float:
        begun = perf_counter()
        model(batch.part(start, stop), along=True)
        return perf_counter() - begun

    few = LEAST_SAMPLES
    spent(0, few)
    first = spent(few, 2 * few)
    each, part = first / few, 0.0
    more = min(PART // 2, len(batch)) - few
    if first < QUICK and more > 2 * few:
        each = min(max((spent(few, few + more) - first) / (more - few), 0.0), each)
        part = first - few * each
    return len(_parts(len(batch), 2 * samples)) * part + len(batch) * each


def _parts(total: int, base: int) -> list[tuple[int, int]]:
    """Return starts and ends of parts; none has designs on both sides of ``base``."""
    return [*pairwise([*range(0, base, PART), *range(base, total, PART), total])]


def _solved(
    batch: DesignBatch, model: Model, base: int, progress: Progress | None = None
) -> tuple[Rows, Rows]:
    """Solve a batch in parts; return its rows, and those of the base with their stations."""
    total, report = len(batch), progress or (lambda done, total: None)
    made = replace(batch, design=as_made(batch.design))
    parts: list[tuple[NDArray[np.int64], Rows]] = []
    report(0, total)
    for start, stop in _parts(total, base):
        parts.append((np.arange(start, stop), model(made.part(start, stop), along=start < base)))
        report(stop, total)
    bare = [(at, replace(part, along={}, x=None)) for at, part in parts]
    of_base = [(at, part) for at, part in parts if at[0] < base]
    return joined(bare, total, "nominal"), joined(of_base, base, "nominal")


def _judged_by_drawing(rows: Rows, design: Design) -> Rows:
    """Return rows judged by the shop's limits on the drawing, not on what is made of it."""
    if LAND not in rows.margins:
        return rows
    drawn = _drawing_margins(design)
    margins = {
        name: {"nominal": np.where(rows.solved, value, np.nan)} for name, value in drawn.items()
    }
    rows = replace(rows, margins=rows.margins | margins)
    if min(drawn.values()) >= 0.0:
        return rows
    verdict = np.where(rows.solved, "fail", rows.verdict)
    return replace(rows, verdict=verdict, nominal_kept=np.zeros_like(rows.nominal_kept))


def _drawing_margins(design: Design) -> dict[str, float]:
    prepared = prepare(design)
    slots = prepared.passage
    columns = {"x_m": slots.x, "channel_width_m": slots.width, "channel_depth_m": slots.depth}
    run = Run({**columns, "land_width_m": slots.land}, {})
    facts = facts_of(design.coolant, prepared.coolant)
    drawn = Solved(design, metals.liner(design), facts, nominal=run)
    return {
        rule.limit.name: float(column(*limits.along(rule.limit, rule.compare, run)).margin)
        for rule in rules(drawn, "shop")
    }


def _kept(rows: Rows, base: slice) -> Iterator[Kept]:
    """Count what is kept among the base designs: every limit together, then each."""
    solved, held = rows.solved[base], rows.nominal_kept[base]
    broken = solved & ~held & np.asarray(rows.verdict[base] == "fail")
    yield _tally(EVERY, held, broken, solved, informative=False)
    for name, runs in rows.margins.items():
        margin, informative = runs["nominal"][base], name in rows.informative
        yield _tally(name, solved & (margin >= 0.0), solved & (margin < 0.0), solved, informative)


def _tally(name: str, kept: Flags, broken: Flags, solved: Flags, informative: bool) -> Kept:
    count, n, lost = solved.size, int(kept.sum()), int(broken.sum())
    missing = int((~solved).sum())
    return Kept(name, n, lost, count - n - lost - missing, missing, informative, *wilson(n, count))


def quantiles(values: Array, name: str) -> Array:
    """Return an output's values (L,) at ``QUANTILES`` over all designs, each that of a design.

    NaN, of a design without a value, counts as beyond the unfavourable end (the low one of the
    least margin, else the high one); infinite where a quantile falls on such a design.
    """
    beyond = -np.inf if name == LEAST_MARGIN else np.inf
    whole = np.where(np.isnan(values), beyond, values)
    return np.asarray(np.quantile(whole, QUANTILES, method="inverted_cdf"))


def along(x: Array | None, T_wall: Array | None, nominal: Result | None) -> Along | None:
    """Return the bands of hot-wall temperature along the chamber, None where nothing was solved.

    ``x`` [m] and ``T_wall`` [K] are (L, S), NaN for a design that is not solved, which counts as
    hotter than any other; ``nominal`` gives the stations, where it has as many.
    """
    if x is None or T_wall is None:
        return None
    known = np.isfinite(T_wall).all(axis=1)
    if not known.any():
        return None
    reference = x[known][0]
    if nominal is not None and nominal.stations["x_m"].size == reference.size:
        reference = np.asarray(nominal.stations["x_m"])
    T, how = T_wall[known], ""
    if not np.allclose(x[known], reference, rtol=0.0, atol=1e-9):
        reference, T, how = _on_common_stations(x[known], T, reference)
    whole = np.full((known.size, reference.size), np.inf)
    whole[known] = T
    bands = np.quantile(whole, QUANTILES, axis=0, method="inverted_cdf")
    return Along(reference, bands, how)


def _on_common_stations(x: Array, T: Array, reference: Array) -> tuple[Array, Array, str]:
    """Return common stations (S,) [m], temperatures there (L, S) [K], and how they were made."""
    if np.any(np.diff(x, axis=1) <= 0.0):
        return np.median(x, axis=0), T, TEXTS["notes"]["by_number"]
    inside = (reference >= x[:, 0].max()) & (reference <= x[:, -1].min())
    common = reference[inside]
    moved = [np.interp(common, own, values) for own, values in zip(x, T, strict=True)]
    return common, np.stack(moved), TEXTS["notes"]["interpolated"]

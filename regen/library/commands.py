"""The functions of the library: each answers one question about a case."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from shutil import rmtree
from tempfile import mkdtemp
from typing import TYPE_CHECKING, Any, Literal
from weakref import finalize

from regen.library import answers
from regen.library.progress import Clock, Tell, silent

if TYPE_CHECKING:
    from regen.case.read import Case
    from regen.physics.registry import Correlation
    from regen.result import Result
    from regen.studies.sweep.study import Runner

COMPILES = "the first run compiles the physics and builds tables"


def load(path: Path | str, values: Mapping[str, Any] | Sequence[str] = ()) -> Case:
    """Read and check a case file.

    Parameters
    ----------
    path : Path or str
        Case file, TOML in UTF-8.
    values : mapping, or sequence of str
        Values by "section.key" that replace those of the file: numbers in SI or texts with units,
        a single value where the file has pairs along x; or texts "section.key=value".

    Returns
    -------
    Case
        The checked case; ``case.with_values(...)`` returns a changed one.

    Raises
    ------
    CaseError
        If anything is wrong, with everything that is.
    """
    from regen.case.read import load_case

    return load_case(Path(path), values)


def review(case: Case, *, check_wall: bool = True, progress: Tell | None = None) -> answers.Review:
    """Solve a case and judge its limits.

    Parameters
    ----------
    case : Case
        From ``load``.
    check_wall : bool
        Check the wall at some stations by finite elements, about a second more.
    progress : callable, optional
        Takes a text on what is being waited for, such as ``print``.

    Returns
    -------
    Review
        Quantities, bands, worst channel, margins, notes and stations, in SI.

    Raises
    ------
    MarchError
        If the nominal channel is not solved: where, why, and what to do.
    """
    from regen.checks.review import review as judge

    result = judge(case.design, case_hash=case.hash, progress=progress, check_wall=check_wall)
    return answers.Review(case, result)


def sweep(
    case: Case,
    vary: Sequence[str] = (),
    *,
    rows: Path | None = None,
    judge: Literal["nominal", "worst", "full"] = "full",
    folder: Path | str | None = None,
    table: Literal["csv", "parquet"] = "csv",
    threads: int | None = None,
    cluster: str | None = None,
    progress: Tell | None = None,
) -> answers.Sweep:
    """Solve many designs of one case.

    Parameters
    ----------
    case : Case
        From ``load``.
    vary : sequence of str
        Each "key=start:stop:n:unit", "key=80%:120%:5" or "key=0.6,0.7:mm"; every combination is
        solved, the last key varying fastest.
    rows : Path, optional
        In place of ``vary``: a CSV file with a design a row, its header keys with units.
    judge : {"nominal", "worst", "full"}
        Runs that are solved and judged.
    folder : Path or str, optional
        Where rows are kept as they are finished: the same sweep into the same folder goes on where
        it was stopped. Without it a temporary folder, which goes with the answer.
    table : {"csv", "parquet"}
        Format of the table.
    threads : int, optional
        Threads of this machine; all cores without it [-].
    cluster : str, optional
        HOST:PORT of a Dask scheduler, to solve on its workers.
    progress : callable, optional
        Takes a text on what is being waited for.

    Returns
    -------
    Sweep
        Its ``rows`` by column, and a summary.

    Raises
    ------
    CaseError
        If a key, a range or a row is wrong.
    OutputError
        If the folder cannot be written, or holds another sweep.
    """
    from regen.output.sweep import Store, finish
    from regen.output.sweep_table import check_parquet
    from regen.studies.sweep.vary import grid_of, table_of

    tell = progress or silent
    plan = grid_of(vary, case, judge) if rows is None else table_of(rows, case, judge)
    if table == "parquet":
        check_parquet()
    path = Path(folder or mkdtemp(prefix="regen-sweep-"))
    store = Store(path, plan, case.hash, table)
    if folder is None:
        finalize(store, rmtree, path, ignore_errors=True)
    try:
        if store.missing:
            with _runner(threads, cluster, tell) as run:
                clock, total = Clock("rows", tell, store.rows_done), len(plan)
                clock(store.rows_done, total)
                for n, part in run(plan, store.missing):
                    store.keep(n, part)
                    clock(store.rows_done, total)
        tell("table and figures")
        lines = finish(store)
    except KeyboardInterrupt:
        kept = f"stopped: {store.rows_done} of {len(plan)} rows are finished and kept"
        tell(f"{kept}; the same sweep into the same folder goes on")
        raise
    finally:
        store.close()
    return answers.Sweep(case, store, lines)


@contextmanager
def _runner(threads: int | None, cluster: str | None, tell: Tell) -> Iterator[Runner]:
    """Yield what solves the parts: this machine, or the workers of a scheduler."""
    if cluster is None:
        from regen.studies.sweep.study import Local

        yield Local(threads)
        return
    from regen.studies.sweep.cluster import connected

    tell(f"asking the workers of {cluster} what they run")
    with connected(cluster, report=tell) as run:
        yield run


def size(
    case: Case, *, seed: int = 0, threads: int | None = None, progress: Tell | None = None
) -> answers.Size:
    """Size slots, hot wall and coolant flow for the least pressure drop under every limit.

    Parameters
    ----------
    case : Case
        From ``load``; its [sizing] says what is free.
    seed : int
        The same seed finds the same sizes [-].
    threads : int, optional
        Threads; all cores without it. Numbers stay the same [-].
    progress : callable, optional
        Takes a text on what is being waited for.

    Returns
    -------
    Size
        Its ``sized`` is the case with the sizes, solved in full; None if nothing is feasible.

    Raises
    ------
    CaseError, RangeError
        If the case cannot be sized.
    """
    from regen.studies.size.sized_case import answer, check_files
    from regen.studies.size.study import size as search

    tell, workers = progress or silent, threads or cores()
    check_files(case)
    tell(COMPILES)
    sizes = search(case.design, threads=workers, seed=seed, progress=tell)
    sized = None
    if sizes.feasible:
        tell("full solve of the sized case")
        sized = answer(sizes, case, threads=workers)
    return answers.Size(case, sizes, sized, seed)


def uncertainty(
    case: Case,
    inputs: Sequence[str] = (),
    *,
    samples: int = 256,
    seed: int = 1,
    threads: int | None = None,
    progress: Tell | None = None,
) -> answers.Uncertainty:
    """Find how probable it is that each limit is met, and which input decides it.

    Parameters
    ----------
    case : Case
        From ``load``; its [uncertainty] gives the distributions.
    inputs : sequence of str
        More of them, such as "channels.width=normal 0.02 mm".
    samples : int
        Base points, a power of two [-].
    seed : int
        The same seed gives the same numbers [-].
    threads : int, optional
        Threads; all cores without it [-].
    progress : callable, optional
        Takes a text on what is being waited for.

    Returns
    -------
    Uncertainty
        Probabilities with their error, quantiles, indices.

    Raises
    ------
    CaseError
        If an input is wrong.
    """
    from regen.solver.prepare import prepare
    from regen.studies.batch.designs import DesignBatch, Rows, solve_batch
    from regen.studies.uncertainty.distributions import applicable, inputs_of
    from regen.studies.uncertainty.study import check_samples, cost, study

    tell, workers, design = progress or silent, threads or cores(), case.design
    options = cache(lambda: applicable(prepare(design, tell)))
    chosen, left_out = inputs_of(design, inputs, options)
    check_samples(samples, len(chosen))
    tell(f"the case itself ({COMPILES})")

    def model(batch: DesignBatch, along: bool) -> Rows:
        return solve_batch(batch, judged="nominal", threads=workers, along=along)

    nominal = _nominal(case, tell)
    tell(cost(design, chosen, model, samples=samples, seed=seed).text)
    found = study(
        design,
        chosen,
        model,
        samples=samples,
        seed=seed,
        left_out=left_out,
        nominal=nominal,
        case_hash=case.hash,
        progress=Clock("designs", tell),
    )
    return answers.Uncertainty(case, found)


def _nominal(case: Case, tell: Tell) -> Result | None:
    """Return the case itself, judged; None, and why, where it is not solved."""
    from regen.checks.review import review as judge
    from regen.solver.solve import MarchError

    try:
        return judge(case.design)
    except MarchError as error:
        tell(f"the case itself is {error}")
        return None


def envelope(
    case: Case,
    *,
    chamber_pressure: str | None = None,
    mixture_ratio: str | None = None,
    inlet_temperature: str | None = None,
    inlet_pressure: str | None = None,
    feed_pressure: Literal["proportional", "constant"] = "proportional",
    coolant_flow: Literal["proportional", "constant"] = "proportional",
    progress: Tell | None = None,
) -> answers.Envelope:
    """Map the operating envelope: which limit holds where.

    Parameters
    ----------
    case : Case
        From ``load``.
    chamber_pressure, mixture_ratio, inlet_temperature, inlet_pressure : str, optional
        Ranges "start:stop:n:unit" or "start%:stop%:n"; with fewer than two, chamber pressure and
        mixture ratio join.
    feed_pressure, coolant_flow : {"proportional", "constant"}
        Whether they follow the chamber.
    progress : callable, optional
        Takes a text on what is being waited for.

    Returns
    -------
    Envelope
        Points, solved and judged.

    Raises
    ------
    CaseError
        If a range is wrong.
    """
    from regen.studies.envelope.axes import axes_of
    from regen.studies.envelope.operation import Following
    from regen.studies.envelope.study import envelope as solve_points

    given = {
        "chamber_pressure": chamber_pressure,
        "mixture_ratio": mixture_ratio,
        "inlet_temperature": inlet_temperature,
        "inlet_pressure": inlet_pressure,
    }
    axes = axes_of(given, case.design)
    following = Following(feed_pressure, coolant_flow)
    clock = Clock("operating points", progress or silent)
    solved = solve_points(case.design, axes, following, case_hash=case.hash, progress=clock)
    return answers.Envelope(case, solved)


def closeout(case: Case, *, progress: Tell | None = None) -> answers.Closeout:
    """Plan how the slots are closed in the bath: copper, then nickel.

    Parameters
    ----------
    case : Case
        From ``load``.
    progress : callable, optional
        Takes a text on what is being waited for.

    Returns
    -------
    Closeout
        Layers, steps, hours, checks.

    Raises
    ------
    CaseError
        If the case does not plate its jacket, or a value of [plating] is wrong.
    MarchError
        If the nominal channel is not solved.
    """
    from regen.checks.review import review as judge
    from regen.shop.plating.plan import plan_plating
    from regen.shop.plating.values import values_of

    with _plating_errors(case):
        values_of(case.design)
        result = judge(case.design, case_hash=case.hash, progress=progress)
        return answers.Closeout(case, plan_plating(case.design, result))


def shop(case: Case, *, progress: Tell | None = None) -> answers.Shop:
    """Find what the cutters leave, solve the slots as machined, and plan cutting and plating.

    Parameters
    ----------
    case : Case
        From ``load``; its [shop] names the cutters.
    progress : callable, optional
        Takes a text on what is being waited for.

    Returns
    -------
    Shop
        Tables, drawings and pages for mill, lathe, bath and inspection; ``writable`` is False
        where the cutters cannot make the slots.

    Raises
    ------
    CaseError
        If a value of [plating] is wrong.
    """
    from regen.studies.release.to_shop import to_shop

    with _plating_errors(case):
        return answers.Shop(case, to_shop(case.design, case_hash=case.hash, progress=progress))


@contextmanager
def _plating_errors(case: Case) -> Iterator[None]:
    from regen.errors import CaseError, Problem
    from regen.shop.plating.values import PlanError

    try:
        yield
    except PlanError as error:
        raise CaseError(str(case.path), [Problem(error.key, str(error))]) from None


def as_built(case: Case, measured: Path | str, *, progress: Tell | None = None) -> answers.AsBuilt:
    """Solve measured slots as they are: use, rework, sleeve or scrap.

    Parameters
    ----------
    case : Case
        From ``load``.
    measured : Path or str
        CSV with the header "slot, x [mm], width [mm], depth [mm], wall [mm]".
    progress : callable, optional
        Takes a text on what is being waited for.

    Returns
    -------
    AsBuilt
        Slots, the worst first.

    Raises
    ------
    CaseError
        If the table is wrong.
    MarchError
        If the slots as drawn are not solved.
    """
    from regen.case.measured import read_measured
    from regen.studies.as_built.study import as_built as solve_slots

    sheet = read_measured(Path(measured), case.design.channels.count)
    solved = solve_slots(case.design, sheet, case_hash=case.hash, progress=progress)
    return answers.AsBuilt(case, solved)


def alternatives(
    case: Case, processes: Sequence[str] = (), *, progress: Tell | None = None
) -> answers.Alternatives:
    """Solve the same chamber by other processes.

    Parameters
    ----------
    case : Case
        From ``load``; its [alternatives] may name more.
    processes : sequence of str
        Of "electroformed", "HIP-bonded", "brazed" and "printed"; all if empty.
    progress : callable, optional
        Takes a text on what is being waited for.

    Returns
    -------
    Alternatives
        A row for each.

    Raises
    ------
    CaseError
        If an alternative is wrong.
    """
    from regen.studies.alternatives.study import compare

    return answers.Alternatives(case, compare(case, processes, progress=progress))


def correlation(name: str) -> Correlation:
    """Return a correlation by its name: a function of numbers or arrays in SI.

    Parameters
    ----------
    name : str
        As ``regen list correlations`` has it.

    Returns
    -------
    Correlation
        Callable, with its ``source``, ``ranges`` and ``in_range``.

    Raises
    ------
    ValueError
        If there is none of that name.

    Examples
    --------
    >>> correlation("colebrook")(Re=[1e4, 1e5], roughness=0.0).round(5).tolist()
    [0.03089, 0.01799]
    """
    from regen.physics import _dispatch, burnout, enhance  # noqa: F401 - they register
    from regen.physics.registry import CORRELATIONS
    from regen.units import suggestion

    if name not in CORRELATIONS:
        message = f"no correlation {name!r}; {suggestion(name, tuple(CORRELATIONS))}"
        raise ValueError(message)
    return CORRELATIONS[name]


def cores() -> int:
    """Return the cores of this machine [-]."""
    return os.cpu_count() or 1

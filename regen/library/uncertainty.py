"""``regen.uncertainty``."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache, partial
from pathlib import Path

from regen.case.read import Case
from regen.checks.review import review
from regen.library.answer import Answer
from regen.library.progress import COMPILES, Clock, Tell, cores, silent
from regen.output import uncertainty as output
from regen.result import Result
from regen.solver.prepare import prepare
from regen.solver.solve import MarchError
from regen.studies.batch.designs import solve_batch
from regen.studies.uncertainty import study as studies
from regen.studies.uncertainty.distributions import applicable, inputs_of


class Uncertainty(Answer):
    """Probability of meeting each limit, and what decides it."""

    study: studies.Uncertainty

    def parts(self) -> Iterable[str]:
        """Return probabilities, quantiles and the ranking of the inputs."""
        return output.lines(self.study)

    def write(self, folder: Path | str) -> list[Path]:
        """Write samples.csv, figures and uncertainty.json."""
        return output.write(self.study, Path(folder))


def uncertainty(
    case: Case,
    inputs: Sequence[str] = (),
    *,
    samples: int = 256,
    seed: int = 1,
    threads: int | None = None,
    progress: Tell | None = None,
) -> Uncertainty:
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
    tell, workers, design = progress or silent, threads or cores(), case.design
    options = cache(lambda: applicable(prepare(design, tell)))
    chosen, left_out = inputs_of(design, inputs, options)
    studies.check_samples(samples, len(chosen))
    tell(f"the case itself ({COMPILES})")
    nominal = _nominal(case, tell)
    model = partial(solve_batch, judged="nominal", threads=workers)
    seconds = studies.seconds_needed(design, chosen, model, samples=samples, seed=seed)
    tell(studies.cost_text(samples, len(chosen), seconds))
    result = studies.study(
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
    return Uncertainty(case, result)


def _nominal(case: Case, tell: Tell) -> Result | None:
    """Return the case itself, judged; None, and why, where it is not solved."""
    try:
        return review(case.design)
    except MarchError as error:
        tell(f"the case itself is {error}")
        return None

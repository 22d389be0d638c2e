"""The sized demo against a blind sample of the same sizes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from scipy.stats import qmc

from regen.case import load_case
from regen.studies.size import size
from regen.studies.sizing_problem import Problem

METHANE = Path(__file__).parents[2] / "cases" / "a-methane.toml"

SAMPLES = 500


def test_the_sized_demo_is_no_worse_than_the_best_of_a_sobol_sample():
    found = size(load_case(METHANE, ["models.stations=41"]).design, threads=2)
    assert found.feasible
    limits = tuple(dict.fromkeys(name.limit for name in found.names if name.lane))
    problem = Problem(found.space, limits, threads=2)
    points = qmc.Sobol(len(found.space.variables), seed=7).random(512)[:SAMPLES]
    sample = problem.at(points)
    # the sample need not be cut: random depths are steeper than a cutter follows
    columns = np.array([bool(name.lane) for name in found.names])
    kept = sample.solved & (sample.constraints[:, columns] >= 0.0).all(axis=1)
    assert kept.any()
    assert found.objective <= sample.objective[kept].min()

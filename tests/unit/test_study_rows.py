"""Files and words of the studies, on made-up results: whole rows, every cell worked by hand."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np

from regen.case.read import load_case
from regen.output.size import lines as sizing_lines
from regen.output.size import size_object
from regen.output.size import sizes as sizes_table
from regen.output.sweep import lines as sweep_lines
from regen.output.sweep import summary_object
from regen.output.sweep_table import summary_of
from regen.output.uncertainty import interval, missed, quantiles
from regen.studies.batch.parameters import numeric_key
from regen.studies.size.problem import Constraint, Trial
from regen.studies.size.space import Space, Variable
from regen.studies.size.study import Sized
from regen.studies.sweep.vary import grid_of
from regen.studies.uncertainty.study import LEAST_MARGIN, QUANTILES, Kept
from tests.helpers.places import CASES

# --- sweep


def test_the_best_rows_of_a_sweep(tmp_path):
    """Three rows: one breaks a limit, one loses least, one is coolest."""
    case = load_case(CASES / "a-methane.toml")
    plan = grid_of(["liner.wall=0.6:0.8:3:mm"], case, "nominal")
    path = tmp_path / "sweep.csv"
    path.write_text(
        "row,liner.wall_m,status,verdict,nominal_kept,T_wall_hot_max_K,coolant_pressure_drop_Pa,"
        "margin_hot_wall_temperature_nominal,throat_diameter_m\n"
        "0,0.0006,solved,fail,0,650,500000,-0.1,0.038\n"
        "1,0.0007,solved,pass,1,748.3,1927000,0.065,0.038\n"
        "2,0.0008,solved,pass,1,702.4,2318000,0.12,0.038\n"
    )
    summary = summary_of(path, plan, frozenset())
    said = sweep_lines(summary)
    assert "  least pressure drop: row 1, liner.wall 0.7 mm: 19.3 bar, wall 750 K" in said
    assert "  coolest wall:        row 2, liner.wall 0.8 mm: 23.2 bar, wall 700 K" in said
    best = summary_object(summary)["best"]
    assert best["least_pressure_drop"]["row"] == 1
    assert best["coolest_wall"]["coolant_pressure_drop_Pa"] == 2318000.0
    # none of the two beats the other in both
    assert summary.front["row"].tolist() == [1.0, 2.0]


# --- uncertainty


def test_how_often_a_limit_is_kept():
    one = Kept("hot_wall_temperature", 90, 6, 3, 1, False, 0.826, 0.945)
    assert interval(one) == "0.900 (0.826 to 0.945)"
    assert missed(one) == "exceeded 6, not evaluated 3, not solved 1"


def test_quantiles_in_the_units_of_an_engineer(solved):
    values = {
        "T_wall_hot_max_K": 748.3,
        "coolant_pressure_drop_Pa": 19.27e5,
        "coolant_temperature_out_K": math.inf,
        "q_max_W_m2": 31.44e6,
        LEAST_MARGIN: 0.123,
    }
    spread = {key: np.full(len(QUANTILES), value) for key, value in values.items()}
    table = quantiles(SimpleNamespace(quantiles=spread, nominal=solved))
    assert [row[1:3] for row in table.texts()] == [
        ["K", "750"],
        ["bar", "19.3"],
        ["K", "not solved"],
        ["MW/m2", "31.4"],
        ["%", "12"],
    ]
    assert [row[-1] for row in table.texts()] == ["750", "19.3", "410", "31.4", "-"]


# --- sizing


def test_the_sizes_before_and_now(solved):
    case = load_case(CASES / "a-methane.toml", ("sizing.margin=0.05",))
    wall = Variable(numeric_key("liner.wall", case.design), "wall", 0.6e-3, 1.2e-3)
    kept = Kept("every limit", 90, 10, 0, 0, False, 0.826, 0.945)
    sized = Sized(
        space=Space(case.design, (wall,), None),
        design=case.design,
        values=np.array([0.65e-3]),
        own=np.array([0.8e-3]),
        own_objective=23.18e5,
        trial=Trial(
            shares=np.zeros(1),
            objective=19.27e5,
            constraints=np.array([0.0023, 0.006]),
            violation=0.0,
            solved=True,
            names=(
                Constraint("hot_wall_temperature", "nominal", (-0.012, 0.004)),
                Constraint("land"),
            ),
        ),
    )
    answer = SimpleNamespace(good=True, result=solved, kept=kept, case=case, not_cut=("an arc",))
    found = size_object(sized, answer, case, 7)
    assert (found["objective"], found["objective_of_the_case"]) == (19.27e5, 23.18e5)
    (size,) = found["sizes"]
    numbers = {"case": 0.8e-3, "sized": 0.65e-3, "low": 0.6e-3, "high": 1.2e-3}
    assert {name: size[name] for name in numbers} == numbers
    assert found["probability"]["probability"] == 0.9
    assert found["not_cut_as_drawn"] == ["an arc"]
    assert sizes_table(sized).texts()[:1] == [["wall", "0.8 mm", "0.65 mm", "0.6 mm", "1.2 mm"]]
    text = sizing_lines(sized, answer)
    assert "coolant pressure drop: 19.3 bar (the case's own sizes: 23.2 bar)" in text
    assert any(
        "hot-gas-side wall 750 K, worst channel 900 K, band to 990 K; pressure drop 19.27 bar"
        in line
        for line in text
    )
    assert "probability that every limit is met: 90 % (83 % to 94 %, 100 designs" in " ".join(text)
    held = "hot wall temperature, nominal, x = -12 to 4 mm"
    assert f"  {held}: 0.23 % left beyond the margin of 5 %" in text
    # 0.6 per cent of the least land of 0.5 mm
    assert "  thinnest land (shop.least_land): 0.003 mm left" in text

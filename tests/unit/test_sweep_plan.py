"""What a sweep varies: how it is written, what rows it has, what is refused in which words."""

from __future__ import annotations

import pickle

import numpy as np
import pytest

from regen.case.read import load_case
from regen.errors import CaseError
from regen.studies.sweep import vary as varied
from regen.studies.sweep.plan import MOST_PARTS
from regen.studies.sweep.vary import grid_of, table_of
from tests.helpers.places import CASES

WIDTH = "channels.width=0.6:0.8:3:mm"
INCH = 0.0254


@pytest.fixture(scope="module")
def case():
    return load_case(CASES / "a-methane.toml")


def column(plan):
    return plan.values(0, len(plan))[:, -1].tolist()


@pytest.mark.parametrize(
    ("text", "name", "values"),
    [
        (WIDTH, "channels.width_m", [0.6e-3, 0.7e-3, 0.8e-3]),
        ("channels.width=0.6 mm:0.8 mm:3", "channels.width_m", [0.6e-3, 0.7e-3, 0.8e-3]),
        ("liner.wall=0.02:0.04:2:in", "liner.wall_m", [0.02 * INCH, 0.04 * INCH]),
        ("liner.wall=0.9,0.6,0.7:mm", "liner.wall_m", [0.9e-3, 0.6e-3, 0.7e-3]),
        ("liner.wall=0.9 mm, 0.6 mm", "liner.wall_m", [0.9e-3, 0.6e-3]),
        ("liner.wall=50%:150%:3", "liner.wall_m", [0.4e-3, 0.8e-3, 1.2e-3]),
        ("channels.width=80%:120%:3", "channels.width_over_case", [0.8, 1.0, 1.2]),
        ("channels.count=60:100:5", "channels.count", [60, 70, 80, 90, 100]),
        ("coolant.mass_flow=0.8,0.9:fuel", "coolant.mass_flow_of_fuel", [0.8, 0.9]),
        ("coolant.mass_flow=0.4:0.5:2:kg/s", "coolant.mass_flow_kg_s", [0.4, 0.5]),
        ("coolant.inlet_temperature=-160:-140:3:degC", None, [113.15, 123.15, 133.15]),
    ],
)
def test_a_range_or_a_list(case, text, name, values):
    plan = grid_of([text], case)
    # to twelve digits the values are what a person would write
    assert column(plan) == [float(f"{value:.12g}") for value in values]
    assert name is None or plan.parameters[0].column == name


def test_a_step_that_meets_the_cases_own_value_is_that_value():
    case = load_case(CASES / "a-methane.toml", ["chamber.pressure=435.1 psi"])
    own = case.design.chamber.pressure
    assert float(f"{own:.12g}") != own  # it has more digits than steps are rounded to
    assert own in column(grid_of(["chamber.pressure=430.1:440.1:3:psi"], case))


def test_the_last_key_varies_fastest(case):
    plan = grid_of(["channels.count=60,80", WIDTH], case)
    assert plan.shape == (2, 3)
    assert plan.values(0, 6)[:, 0].tolist() == [60, 60, 60, 80, 80, 80]
    assert plan.values(2, 4).tolist() == [[60, 0.8e-3], [80, 0.6e-3]]


def test_a_grid_of_ten_million_rows_is_not_built(case):
    plan = grid_of(["liner.wall=0.5:1.5:10000:mm", "channels.width=0.5:0.9:1000:mm"], case)
    assert len(plan) == 10_000_000
    assert len(pickle.dumps(plan)) < 20_000
    assert plan.values(9_999_999, 10_000_000).tolist() == [[1.5e-3, 0.9e-3]]
    assert plan.parts <= MOST_PARTS


def test_a_batch_holds_the_rows_asked_for(case):
    plan = grid_of(["channels.count=60,80", WIDTH], case)
    batch = plan.batch(4, 6)
    assert batch.row(1).channels.count == 80
    assert batch.row(1).channels.width.value == (0.8e-3,)


@pytest.mark.parametrize(
    ("vary", "said"),
    [
        (["channels.width"], ("--vary", "KEY=START:STOP:N:UNIT")),
        (["channels.widht=1:2:3:mm"], ("unknown key", 'did you mean "width"?')),
        (["chanels.width=1:2:3:mm"], ("unknown section", 'did you mean "channels"?')),
        (["width=1:2:3:mm"], ('write "channels.width"',)),
        (["liner.alloy=1:2:3"], ("holds no number", "wall, coating")),
        (["channels.width=0.6:0.6:5:mm"], ("the step is zero",)),
        (["channels.width=0.8:0.6:5:mm"], ("start is above stop", "0.6:0.8:5:mm")),
        (["channels.width=0.6:0.8:1:mm"], ("1 values make no range", "N from 2")),
        (["channels.width=0.6:0.8:five:mm"], ('"five" is not a number of values',)),
        (["channels.width=0.6:0.8:mm:5"], ("the order is START:STOP:N:UNIT",)),
        (["channels.width=0.6:0.8"], ("the number of values is missing",)),
        (["channels.width=0.6:0.8:3"], ("unit is missing",)),
        (["channels.width=0.6:0.8:3:K"], ("not of length",)),
        (["channels.width=-0.2:0.8:5:mm"], ("above zero",)),
        (["channels.width=0:0.8:5:mm"], ("above zero",)),
        (["channels.width=0%:100%:5"], ("above zero",)),
        (["channels.width=0.7:mm"], ("one value does not vary", '--set channels.width="0.7 mm"')),
        (["channels.width=0.7,,0.8:mm"], ("missing between two commas",)),
        (["channels.width=0.7,0.8,0.7:mm"], ("0.7 mm is given twice",)),
        (["channels.width=80%:0.8 mm:5"], ("one end is per cent",)),
        (["channels.count=60:100:4"], ("not whole", "2, 3, 5, 6, 9, 11, 21 or 41")),
        (["channels.count=60.5:100:2"], ("not a whole number",)),
        (["channels.count=80%:120%:5"], ("per cent of a whole number",)),
        (["coolant.inlet_temperature=80%:120%:5"], ("per cent of a temperature",)),
        ([WIDTH, "channels.width=80%,90%"], ("varied twice",)),
        (["liner.wall=0.5:1:100000:mm", "channels.depth=1:2:100000:mm"], ("1e+10 rows",)),
        # checked with the whole case: it gives the throat's diameter
        (["contour.thrust=4:6:3:kN"], ("--vary contour.thrust", "throat_diameter and thrust")),
        (["coolant.outlet_pressure=40:60:3:bar"], ("inlet_pressure and outlet_pressure",)),
        (["shop.width_tolerance=0.1:0.9:3:mm"], ("with shop.width_tolerance = 0.9 mm",)),
    ],
)
def test_what_is_refused(case, vary, said):
    with pytest.raises(CaseError) as refused:
        grid_of(vary, case)
    for words in said:
        assert words in str(refused.value)


def test_everything_wrong_is_said_at_once(case):
    with pytest.raises(CaseError) as refused:
        grid_of(["channels.widht=1:2:3:mm", "liner.wall=1:1:3:mm", "contour.thrust=4,5:kN"], case)
    assert len(refused.value.problems) == 3


def test_each_value_of_a_short_list_is_tried_with_the_case(case):
    # slots of 0.7 mm leave no room for the one in the middle
    with pytest.raises(CaseError, match=r"= 0\.8 mm"):
        grid_of(["shop.width_tolerance=0.01,0.8,0.02:mm"], case)


def written(folder, text):
    path = folder / "designs.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_table_of_designs(case, tmp_path):
    header = "channels.width [mm] , liner.wall [%],channels.count [-]"
    plan = table_of(written(tmp_path, f"{header}\n# mine\n\n0.7,90,80\n0.65,110,90\n"), case)
    names = ["channels.width_m", "liner.wall_m", "channels.count"]
    assert [key.column for key in plan.parameters] == names
    assert plan.values(0, 2).tolist() == [[0.7e-3, 0.72e-3, 80], [0.65e-3, 0.88e-3, 90]]
    assert plan.batch(1, 2).row(0).channels.count == 90


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", ("holds no values",)),
        ("channels.width [mm]\n", ("no rows",)),
        ("0.7,80\n0.8,90\n", ("no header with units",)),
        ("channels.width [mm],wall\n0.8,90\n", ("header", "not a key")),
        ("channels.width\n0.7\n", ("no header with units",)),
        ("channels.width [mm],channels.widht [mm]\n1,2\n", ('did you mean "width"?',)),
        ("channels.width [mm],channels.width [in]\n1,2\n", ("two columns",)),
        ("channels.width [mm],liner.wall [mm]\n1,2\n1\n1,2,3\n", ("line 3", "line 4", "3 values")),
        ("channels.width [mm]\n0.7\nwide\n", ("line 3", "not a finite number")),
        ("channels.width [K]\n0.7\n", ("not of length",)),
        ("channels.width [mm]\n0.7\n0\n", ("line 3", "above zero")),
        ("channels.count [-]\n80\n80.5\n90\n", ("line 3", "not a whole number")),
        ("contour.thrust [kN]\n5\n", ("line 2", "throat_diameter and thrust")),
        ('channels.width [mm]\n"0.7\n', ("line 2",)),
    ],
)
def test_a_table_that_is_refused(case, tmp_path, text, said):
    with pytest.raises(CaseError) as refused:
        table_of(written(tmp_path, text), case)
    for words in ("--vary-from designs.csv", *said):
        assert words in str(refused.value)


def test_a_table_that_is_not_there(case, tmp_path):
    for path, words in ((tmp_path / "no.csv", "there is no file"), (tmp_path, "a folder")):
        with pytest.raises(CaseError, match=words):
            table_of(path, case)
    path = tmp_path / "latin.csv"
    path.write_bytes("channels.width [µm]\n700\n".encode("latin-1"))
    with pytest.raises(CaseError, match="UTF-8"):
        table_of(path, case)


def test_of_a_long_table_the_extremes_are_tried_with_the_case(case, tmp_path):
    rows = [f"{0.01 + 0.0001 * n:.4f}" for n in range(varied.MOST_CHECKED + 30)]
    rows[17] = "0.9"
    text = "shop.width_tolerance [mm]\n" + "\n".join(rows) + "\n"
    with pytest.raises(CaseError, match="line 19"):
        table_of(written(tmp_path, text), case)


def test_any_value_changes_the_hash(case, tmp_path):
    texts = (WIDTH, "channels.width=0.6:0.8:4:mm", "channels.width=0.6,0.7,0.8:mm")
    hashes = {grid_of([text], case).sha256 for text in texts}
    for text in ("0.6\n0.7\n", "0.6\n0.71\n"):
        hashes.add(table_of(written(tmp_path, f"channels.width [mm]\n{text}"), case).sha256)
    assert len(hashes) == 5
    assert grid_of([WIDTH], case).sha256 == grid_of([WIDTH], case).sha256


def test_values_are_finite_and_inside(case):
    plan = grid_of(["channels.width=0.1:0.9:1001:mm"], case)
    values = plan.values(0, len(plan))[:, 0]
    assert (values[0], values[-1]) == (0.1e-3, 0.9e-3)
    assert np.all(np.diff(values) > 0.0)

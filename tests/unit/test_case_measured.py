"""Measured files: what is read, and every row that is wrong, by its line."""

import pytest

from regen.case.measured import SHOWN, read_measured, refuse
from regen.errors import CaseError

ROUNDING = 1e-12
COUNT = 36
HEADER = "slot, x [mm], width [mm], depth [mm], wall [mm]\n"


@pytest.fixture
def sheet(tmp_path):
    """Return a function (text) -> the sheet read from it."""

    def read(text, count=COUNT):
        path = tmp_path / "measured.csv"
        path.write_text(text, encoding="utf-8")
        return read_measured(path, count)

    return read


def test_sizes_in_their_units_and_gaps(sheet):
    found = sheet("depth [in]; slot; x [mm]; wall [mil]\n0.04; 7; -10; -\n ; 36; 0; 40 # pin\n")
    assert found.problems == ()
    first, second = found.rows
    assert (first.line, first.slot, first.width, first.wall) == (2, 7, None, None)
    assert first.depth == pytest.approx(0.04 * 0.0254, rel=ROUNDING)
    assert first.x == pytest.approx(-0.01, rel=ROUNDING)
    assert (second.line, second.slot, second.depth) == (3, 36, None)
    assert second.wall == pytest.approx(40 * 2.54e-5, rel=ROUNDING)


def test_blanks_may_separate(sheet):
    found = sheet("slot x [mm] depth [mm]\n1 -10 1.05\n2 -10 -\n")
    assert [row.slot for row in found.rows] == [1]
    assert [p.key for p in found.problems] == ["line 3, slot 2"]


def test_every_wrong_row_is_named_at_once(sheet, recorded):
    rows = (
        "0, -10, 1.0, 1.0, 1.0",  # line 2: slots count from 1
        "37, -10, 1.0, 1.0, 1.0",  # one too many
        "3.5, -10, 1.0, 1.0, 1.0",  # no whole number
        "4, -10, 1.0, 0.04, 1.0",  # an inch taken for a millimetre
        "5, -10, 1.0, abc, -1",  # two at once
        "6, -10, 1.0, 1.0",  # a cell short
        "7, -10, 1.0, 1.0, 1.0",
        "7, -10.0, 1.1, 1.0, 1.0",  # the same place again
        "8, -10, , -, ",  # nothing measured
        "9, , 1.0, 1.0, 1.0",  # no place
        "10, nan, 1.0, 1.0, 1.0",
    )
    found = sheet(HEADER + "\n".join(rows) + "\n")
    assert [problem.key for problem in found.problems] == [
        "line 2, slot",
        "line 3, slot",
        "line 4, slot",
        "line 5, slot 4, depth",
        "line 6, slot 5, depth",
        "line 6, slot 5, wall",
        "line 7",
        "line 9, slot 7",
        "line 10, slot 8",
        "line 11, slot 9, x",
        "line 12, slot 10, x",
    ]
    assert [row.slot for row in found.rows] == [7]
    recorded(found.problems)
    with pytest.raises(CaseError, match="11 problems"):
        refuse(found, list(found.problems))


def test_a_file_of_wrong_rows_is_not_listed_to_its_end(sheet):
    found = sheet(HEADER + "99, 0, 1, 1, 1\n" * (SHOWN + 5))
    with pytest.raises(CaseError) as error:
        refuse(found, list(found.problems))
    assert len(error.value.problems) == SHOWN + 1
    assert "5 more rows" in str(error.value.problems[-1])


@pytest.mark.parametrize(
    "text",
    [
        "slot, x [mm], deep [mm]\n1, 0, 1\n",
        "slot, x [mm], depth [mm], depth [mm]\n1, 0, 1, 1\n",
        "x [mm], depth [mm]\n0, 1\n",
        "slot, x [mm]\n1, 0\n",
        "slot, x [mm], depth\n1, 0, 1\n",
        "slot, x [mm], depth [bar]\n1, 0, 1\n",
        "slot, x [mm], depth [mm]\n",
        "",
    ],
    ids=[
        *("unknown column", "twice", "no slot", "no size", "no unit", "no length"),
        *("no row", "empty"),
    ],
)
def test_what_is_no_measured_file(sheet, recorded, text):
    def read_whole():
        refuse(found := sheet(text), list(found.problems))

    with pytest.raises(CaseError) as error:
        read_whole()
    recorded(error.value.problems)
    assert [problem.key for problem in error.value.problems] == ["measured.csv"]


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(CaseError, match="there is no file"):
        read_measured(tmp_path / "none.csv", COUNT)

"""Parts of a sweep on disk: kept once written, joined in order, and found again after any stop.

The rows are made up here; nothing is solved.
"""

from __future__ import annotations

import csv
import errno
import json
import os
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from regen.case.read import load_case
from regen.output import sweep
from regen.output.folder import OutputError
from regen.output.sweep import Store, lines, summary_object
from regen.output.sweep_table import DROP, LAND, THROAT, WALL, check_parquet, summary_of
from regen.studies.batch.designs import RUNS, Rows
from regen.studies.sweep.plan import SweepPlan
from regen.studies.sweep.vary import grid_of
from tests.helpers.places import CASES

ROWS, PART = 22, 5
REASON = 'not solved: "choked", at x = 3 mm.\nWhat to do: more, or wider, slots'


@pytest.fixture(scope="module")
def plan():
    case = load_case(CASES / "a-methane.toml")
    return replace(grid_of(["liner.wall=0.6:1.65:22:mm"], case, "worst"), part_rows=PART)


def made_up(plan: SweepPlan, n: int) -> Rows:
    """Rows whose every number follows from the row's; burnout is judged in every second part."""
    number = np.array(plan.rows_of(n), dtype=float)
    ok = number % 7 != 3

    def column(value):
        return np.where(ok, value, np.nan)

    limits = ["hot_wall_temperature", *(["burnout"] if n % 2 else []), "coolant_mach"]
    margins = {
        name: {run: column(0.1 + at - 0.01 * number) for at, run in enumerate(RUNS)}
        for name in limits
    }
    return Rows(
        status=np.where(ok, "solved", "choked").astype(object),
        reason=np.where(ok, "", REASON).astype(object),
        x_stop=np.where(ok, np.nan, 0.003),
        summary={
            WALL: column(500.0 + number),
            DROP: column(1e6 - 1e4 * number),
            LAND: column(1e-3),
            THROAT: column(0.038),
        },
        margins=margins,
        informative=frozenset({"coolant_mach"}),
        verdict=np.where(ok, np.where(number < 11, "pass", "fail"), "").astype(object),
        nominal_kept=ok & (number < 11),
        along={},
        x=None,
    )


def opened(folder, plan, **more):
    return Store(folder, plan, more.pop("case_hash", "of the case"), **more)


def run(store: Store, most: int = 100) -> None:
    """Solve what is missing, at most so many parts; join and finish if nothing is left."""
    for n in store.missing[:most]:
        store.keep(n, made_up(store.plan, n))
    if not store.missing:
        store.join()
        store.finish({}, {})
    store.close()


@pytest.fixture(scope="module")
def whole(plan, tmp_path_factory):
    """Return the folder of a sweep that was never stopped."""
    folder = tmp_path_factory.mktemp("whole")
    run(opened(folder, plan))
    return folder


def table(folder):
    return list(csv.DictReader((folder / "sweep.csv").read_text().splitlines()))


def test_every_row_is_there_once_and_in_order(whole, plan):
    rows = table(whole)
    assert [int(row["row"]) for row in rows] == list(range(ROWS))
    for n, row in enumerate(rows):
        assert float(row["liner.wall_m"]) == pytest.approx(0.6e-3 + 0.05e-3 * n, rel=1e-11)
        if n % 7 == 3:
            assert (row["status"], row["verdict"], row[WALL]) == ("choked", "", "")
            assert row["reason"] == " ".join(REASON.split())
            assert float(row["x_reached_m"]) == 0.003
        else:
            assert float(row[WALL]) == 500.0 + n
            assert row["x_reached_m"] == row["reason"] == ""
    assert sorted(path.name for path in whole.iterdir()) == ["sweep.csv", "sweep.json"]


def test_a_limit_that_is_judged_in_some_parts_only_has_its_columns_in_all(whole):
    rows = table(whole)
    names = [name for name in rows[0] if name.startswith("margin_")]
    limits = ("hot_wall_temperature", "burnout", "coolant_mach")
    # the band was not judged: no columns of it
    assert names == [f"margin_{n}_{run}" for n in limits for run in ("nominal", "worst_channel")]
    for n, row in enumerate(rows):
        text = row["margin_burnout_nominal"]
        if n % 7 == 3:
            assert text == ""
        elif (n // PART) % 2:
            assert float(text) == pytest.approx(0.1 - 0.01 * n, abs=1e-9)
        else:
            assert text == "1"  # it makes no demand there


def test_parts_may_come_in_any_order(plan, whole, tmp_path):
    store = opened(tmp_path, plan)
    for n in reversed(store.missing):
        store.keep(n, made_up(plan, n))
    run(store)
    assert (tmp_path / "sweep.csv").read_bytes() == (whole / "sweep.csv").read_bytes()


class Killed(BaseException):
    """Stands for the moment at which the process ends."""


STEPS = 22
"""Times that something is made sure: 2 for the index, 2 for the journal, 3 for each of 5 parts, 2
for the table, 1 for the final index."""


def killed_at(monkeypatch, step):
    """Let the process end just before the step'th time that something is made sure."""
    count = 0
    real = {"fsync": os.fsync, "replace": Path.replace}

    def counted(name):
        def call(*arguments):
            nonlocal count
            count += 1
            if count == step:
                raise Killed
            return real[name](*arguments)

        return call

    monkeypatch.setattr(os, "fsync", counted("fsync"))
    monkeypatch.setattr(Path, "replace", counted("replace"))


@pytest.mark.parametrize("step", range(1, STEPS + 1))
def test_after_an_end_at_any_moment_the_same_table_comes_out(
    plan, whole, tmp_path, monkeypatch, step
):
    with monkeypatch.context() as patch:
        killed_at(patch, step)
        store = None
        try:
            store = opened(tmp_path, plan)
            run(store)
            pytest.fail("it came to its end before that")
        except Killed:
            pass
        finally:
            if store is not None:
                store.close()
    store = opened(tmp_path, plan)
    kept = set(store.done)
    run(store)
    assert (tmp_path / "sweep.csv").read_bytes() == (whole / "sweep.csv").read_bytes()
    assert json.loads((tmp_path / "sweep.json").read_text()) == json.loads(
        (whole / "sweep.json").read_text()
    )
    # what was made sure is not lost
    assert len(kept) >= min(5, (step - 5) // 3)
    assert not (tmp_path / "parts").exists()


def test_parts_that_a_late_end_left_beside_the_table_are_taken_away(plan, whole, tmp_path):
    run(opened(tmp_path, plan))
    (tmp_path / "parts").mkdir()
    (tmp_path / "parts" / "part-000004.csv").write_text("left")
    run(opened(tmp_path, plan))
    assert sorted(path.name for path in tmp_path.iterdir()) == ["sweep.csv", "sweep.json"]


def test_a_torn_part_a_torn_line_and_strays_are_put_right(plan, whole, tmp_path):
    store = opened(tmp_path, plan)
    run(store, most=4)
    parts = tmp_path / "parts"
    torn = parts / "part-000001.csv"
    torn.write_bytes(torn.read_bytes()[:-40])
    (parts / ".part-000004.csv.99.part").write_text("half")
    journal = parts / "done.jsonl"
    journal.write_bytes(journal.read_bytes()[:-30])  # the fourth part's line
    store = opened(tmp_path, plan)
    assert sorted(store.done) == [0, 2]
    assert store.rows_done == 2 * PART
    run(store)
    assert (tmp_path / "sweep.csv").read_bytes() == (whole / "sweep.csv").read_bytes()


def test_a_part_with_too_few_rows_is_refused(plan, tmp_path):
    store = opened(tmp_path, plan)
    with pytest.raises(ValueError, match="2 rows, and 5 are due"):
        store.keep(0, made_up(plan, 4))
    store.close()


def test_a_full_disk_keeps_what_is_finished_and_says_how_to_go_on(
    plan, whole, tmp_path, monkeypatch
):
    store = opened(tmp_path, plan)
    store.keep(0, made_up(plan, 0))

    def full(file):
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(sweep, "_flushed", full)
        with pytest.raises(OutputError, match="No space left on device") as refused:
            store.keep(1, made_up(plan, 1))
        assert "5 of 22 rows are finished and kept" in str(refused.value)
        assert "same command again" in str(refused.value)
    store.close()
    store = opened(tmp_path, plan)
    assert sorted(store.done) == [0]
    run(store)
    assert (tmp_path / "sweep.csv").read_bytes() == (whole / "sweep.csv").read_bytes()


def test_a_full_disk_while_joining_keeps_every_part(plan, whole, tmp_path, monkeypatch):
    store = opened(tmp_path, plan)
    for n in store.missing:
        store.keep(n, made_up(plan, n))

    def full(file):
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(sweep, "_flushed", full)
        with pytest.raises(OutputError, match="22 of 22 rows are finished and kept"):
            store.join()
    store.close()
    store = opened(tmp_path, plan)
    assert store.missing == []
    run(store)
    assert (tmp_path / "sweep.csv").read_bytes() == (whole / "sweep.csv").read_bytes()


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"case_hash": "another"}, "another case"),
        ({"judged": "nominal"}, "other runs judged"),
        ({"part_rows": 6}, "parts of another size"),
        ({"form": "parquet"}, "another format"),
        ({"plan": None}, "other keys or values"),
    ],
)
def test_the_folder_of_another_sweep_is_refused(plan, tmp_path, change, text):
    store = opened(tmp_path, plan)
    run(store, most=2)
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    if "plan" in change:
        case = load_case(CASES / "a-methane.toml")
        (change,) = [{"axes": grid_of(["liner.wall=0.6:1.7:23:mm"], case).axes}]
    own = {name: change.pop(name) for name in ("case_hash", "form") if name in change}
    with pytest.raises(OutputError, match="holds another sweep") as refused:
        opened(tmp_path, replace(plan, **change), **own)
    assert text in str(refused.value)
    assert "-o" in str(refused.value)
    after = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    assert after == before


def test_another_version_does_not_go_on(plan, tmp_path, monkeypatch):
    run(opened(tmp_path, plan), most=2)
    monkeypatch.setattr("regen.__version__", "99.0")
    with pytest.raises(OutputError, match="another version of regen"):
        opened(tmp_path, plan)


def test_a_complete_sweep_is_not_solved_again(plan, whole, tmp_path):
    run(opened(tmp_path, plan))
    again = opened(tmp_path, plan)
    assert again.complete
    assert again.missing == []
    assert again.rows_done == ROWS
    run(again)
    for name in ("sweep.csv", "sweep.json"):
        assert (tmp_path / name).read_bytes() == (whole / name).read_bytes()


def test_a_table_that_someone_changed_is_not_taken_or_lost(plan, tmp_path):
    run(opened(tmp_path, plan))
    path = tmp_path / "sweep.csv"
    path.write_text("mine")
    with pytest.raises(OutputError, match="not as this sweep left it"):
        opened(tmp_path, plan)
    assert path.read_text() == "mine"
    path.unlink()
    again = opened(tmp_path, plan)
    assert again.missing == [0, 1, 2, 3, 4]
    again.close()


@pytest.mark.parametrize("name", ["sweep.csv", "sweep.parquet", "parts"])
def test_files_of_somebody_else_stay(plan, tmp_path, name):
    (tmp_path / name).mkdir()
    with pytest.raises(OutputError, match=f"holds {name} without a sweep.json"):
        opened(tmp_path, plan)


@pytest.mark.parametrize("text", ["", "{}", "[1]", '{"sweep": {}}', '{"sweep": 3, "state": 1}'])
def test_a_broken_index_is_refused(plan, tmp_path, text):
    (tmp_path / "sweep.json").write_text(text)
    with pytest.raises(OutputError, match="is not the file of a sweep"):
        opened(tmp_path, plan)


def test_two_sweeps_do_not_share_a_folder(plan, tmp_path):
    first = opened(tmp_path, plan)
    with pytest.raises(OutputError, match="another sweep is writing"):
        opened(tmp_path, plan)
    first.close()
    opened(tmp_path, plan).close()


def test_parquet_holds_the_same(plan, whole, tmp_path):
    parquet = pytest.importorskip("pyarrow.parquet")
    run(opened(tmp_path, plan, form="parquet"))
    found = parquet.read_table(tmp_path / "sweep.parquet").to_pylist()
    plain = table(whole)
    assert len(found) == len(plain)
    for one, other in zip(found, plain, strict=True):
        assert list(one) == list(other)
        for name, text in other.items():
            value = one[name]
            assert value is None if text == "" else str(value) == text or value == float(text)
    informative = frozenset({"coolant_mach"})
    told = [
        lines(summary_of(folder / name, plan, informative))
        for folder, name in ((tmp_path, "sweep.parquet"), (whole, "sweep.csv"))
    ]
    assert told[0] == told[1]


def test_parquet_without_its_package(monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "pyarrow.parquet", None)
    with pytest.raises(OutputError, match=r"regen\[sweep\]"):
        check_parquet()


def test_what_is_said_of_the_rows(whole, plan):
    summary = summary_of(whole / "sweep.csv", plan, frozenset())
    # rows 3, 10 and 17 are choked; of the others those below 11 pass, and every later one has
    # less pressure drop and a hotter wall: all that pass are on the front
    assert (summary.rows, summary.solved, summary.kept) == (22, 19, 9)
    assert summary.front["row"].tolist() == [9, 8, 7, 6, 5, 4, 2, 1, 0]
    assert summary.best[DROP]["row"] == 9
    assert summary.best[WALL]["row"] == 0
    text = "\n".join(lines(summary))
    for words in ("22 rows: 19 solved", "in 9", "choked 3", "row 9, liner.wall 1.05 mm: 9.1 bar"):
        assert words in text


SAW = 'shop.cutters=[{kind="saw",width="0.8 mm",diameter="20 mm",depth="5 mm"}]'
LARGE_SAW = SAW.replace("20 mm", "63 mm")


def swept(tmp_path, case, vary):
    """A sweep of rows that all pass: the first has the least pressure drop and the hottest wall."""
    plan = grid_of([vary], case, "nominal")
    path, count = tmp_path / "sweep.csv", len(plan)
    head = [
        "row",
        *(key.column for key in plan.parameters),
        "status",
        "verdict",
        "nominal_kept",
        WALL,
        DROP,
    ]
    rows = [",".join([*head, LAND, "throat_diameter_m"])]
    for n, (value,) in enumerate(plan.values(0, count).tolist()):
        rows.append(f"{n},{value!r},solved,pass,1,{700 - n},{(n + 1) * 1e5},0.001,0.038")
    path.write_text("\n".join(rows) + "\n")
    return summary_of(path, plan, frozenset())


def test_a_row_that_the_shop_cannot_cut_is_not_named(tmp_path):
    # 1.2 and 1.0 mm are nobody's width, 0.8 mm is the saw's; the last again is not
    case = load_case(CASES / "a-methane.toml", (SAW,))
    summary = swept(tmp_path, case, "channels.width=1.2,1.0,0.8,0.7:mm")
    assert summary.best[DROP]["row"] == 2
    assert summary.best[WALL]["row"] == 2
    drop, wall = summary.refused[DROP], summary.refused[WALL]
    assert drop[:2] == (2, 0)
    assert wall[:2] == (1, 3)
    text = lines(summary)
    at = next(n for n, line in enumerate(text) if "least pressure drop: row 2" in line)
    assert "2 better cannot be milled as drawn; row 0: channels: " in text[at + 1]
    assert summary_object(summary)["best"]["least_pressure_drop"]["row"] == 2


def test_where_no_row_can_be_cut_none_is_named(tmp_path):
    case = load_case(CASES / "a-methane.toml", (SAW,))
    summary = swept(tmp_path, case, "channels.width=1.2,1.0:mm")
    assert not summary.best
    text = "\n".join(lines(summary))
    assert "least pressure drop: none" in text
    assert "2 better cannot be milled" in text
    assert summary_object(summary)["best"] == {}
    assert "row" not in summary_object(summary)["best"]


def test_a_slot_that_changes_too_fast_for_a_cutter_is_not_named_either(tmp_path):
    # no cutters are given; one depth is 0.2 mm deeper within 1 mm: twice the slope of 0.1
    deep = 'channels.depth=[["-150 mm","1.6 mm"],["-1 mm","1.6 mm"],["0 mm","1.8 mm"]]'
    case = load_case(CASES / "a-methane.toml", (deep,))
    summary = swept(tmp_path, case, "channels.width=0.8,0.7:mm")
    assert summary.refused[DROP][2].startswith("channels.depth: its slope is 0.2")


def test_a_row_whose_floor_a_large_disc_cannot_follow_is_not_named(tmp_path):
    # a disc of 31.5 mm radius bridges the arcs of the throat, 28.5 and 7.3 mm
    case = load_case(CASES / "a-methane.toml", (LARGE_SAW,))
    summary = swept(tmp_path, case, "channels.width=0.8,0.7:mm")
    assert not summary.best
    text = "\n".join(lines(summary))
    assert "bridges the arc" in text
    assert "more than shop.depth_tolerance 0.05 mm" in text

"""``regen size``: what it writes, prints and returns, and what it refuses."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from pathlib import Path

import pytest
from regen_cli.app import app
from typer.testing import CliRunner

from regen.studies.size import sized_case
from regen.studies.size import study as studies
from tests.docs.alloys_page import EXAMPLE_NAME, EXAMPLE_ROWS, EXAMPLE_STANZA
from tests.helpers.edit import edited
from tests.helpers.places import WATER
from tests.helpers.slots import Model

SAME = 1e-9
"""What a file with the sizes as text may change of a number solved from them as they are [-]."""

SMALL = (
    "models.stations=21",
    'sizing.free=["count","depth"]',
    "sizing.depth_points=2",
    "sizing.held_at=nominal channel",
)


def sets(*more: str) -> list[str]:
    return [word for one in (*SMALL, *more) for word in ("--set", one)]


@pytest.fixture
def cheap(monkeypatch):
    """Search with a model in closed form: the answer is proved by the physics all the same."""
    model, search = Model(), studies.size
    monkeypatch.setattr(sized_case, "SAMPLES", 8)
    model_search = lambda design, **more: search(design, **more, solve=model)  # noqa: E731
    monkeypatch.setattr("regen.library.size.search", model_search)
    return model


@pytest.fixture(scope="module")
def sized(tmp_path_factory):
    """Return the folder of one sizing by the real search, and what --json printed."""
    out = tmp_path_factory.mktemp("sized")
    done = CliRunner().invoke(app, ["size", str(WATER), "-o", str(out), "--json", *sets()])
    assert done.exit_code == 0, done.output
    return out, done.stdout


def test_the_sized_case_solves_to_the_same_numbers(regen, sized):
    out, printed = sized
    size = json.loads((out / "size.json").read_text())
    assert json.loads(printed) == size  # alone on standard output
    assert size["feasible"]
    assert set(size["files"]) == {"sized.toml", "figures/sizing.svg"}
    for name, sha256 in size["files"].items():
        assert hashlib.sha256((out / name).read_bytes()).hexdigest() == sha256

    solved = regen("solve", out / "sized.toml", "-o", "solved")
    assert solved.exit_code == 0, solved.output
    result = json.loads(Path("solved/result.json").read_text())
    assert result["summary"] == pytest.approx(size["summary"], rel=SAME)
    assert result["summary"]["coolant_pressure_drop_Pa"] == pytest.approx(
        size["objective"], rel=SAME
    )
    assert result["verdict"] == size["verdict"]
    assert result["provenance"]["case_sha256"] == size["provenance"]["sized_case_sha256"]
    # a search that changed nothing would pass all of the above
    assert size["objective"] < 0.9 * size["objective_of_the_case"]


def test_comments_and_other_keys_of_the_case_stay(sized):
    lines = (sized[0] / "sized.toml").read_text().splitlines()
    case = WATER.read_text().splitlines()
    assert case[0].startswith("# ")
    assert lines[0] == case[0]
    own = [line for line in case if not line.startswith(("count", "dep"))]
    assert [line for line in own if line not in lines] == []


@pytest.mark.parametrize("large", [True, False])
def test_a_floor_that_the_disc_cannot_follow_is_named(regen, water, cheap, large):
    """A disc of 63 mm bridges the throat's arcs, an end mill follows any."""
    saw = 'kind="saw",width="1 mm",diameter="63 mm",depth="30 mm"'
    mill = 'kind="end mill",width="1 mm",depth="30 mm"'
    given = "shop.cutters=[{" + (saw if large else mill) + "}]"
    done = regen("size", water, "-o", "out", *sets("channels.width=1 mm", given))
    assert done.exit_code == 0, done.output
    lines = done.stdout.splitlines()
    size = json.loads(Path("out/size.json").read_text())
    assert size["words"] == lines[:-1]
    texts = [line for line in lines if "cannot mill it as drawn" in line]
    reasons = size["not_cut_as_drawn"]
    assert len(texts) == len(reasons) == large
    if large:
        assert "bridges the arc" in reasons[0]
        assert reasons[0] in texts[0]


def test_a_table_of_the_case_goes_with_it(regen, water, cheap):
    Path("width.csv").write_text("x [mm], width [mm]\n-80, 1.2\n0, 1.0\n40, 1.2\n")
    Path("depth.csv").write_text("x [mm], depth [mm]\n-80, 1.2\n40, 1.0\n")
    tables = {"channels.width": {"file": "width.csv"}, "channels.depth": {"file": "depth.csv"}}
    Path("case.toml").write_text(edited(water, tables))
    done = regen("size", "case.toml", "-o", "out", *sets())
    assert done.exit_code == 0, done.output
    assert Path("out/width.csv").read_bytes() == Path("width.csv").read_bytes()
    assert not Path("out/depth.csv").exists()  # the sized depth is in the case
    assert regen("solve", "out/sized.toml", "-o", "solved").exit_code == 0


def test_an_alloy_of_the_users_own_goes_with_it(regen, water, cheap):
    Path("metals").mkdir()
    Path("metals/own.toml").write_text(EXAMPLE_STANZA)
    Path(f"metals/{EXAMPLE_NAME}.csv").write_text(EXAMPLE_ROWS)
    own = {
        "materials.files": ["metals/own.toml"],
        "liner.alloy": EXAMPLE_NAME,
        "liner.condition": "brazed",
    }
    Path("case.toml").write_text(edited(water, own))
    done = regen("size", "case.toml", "-o", "out", *sets())
    assert done.exit_code == 0, done.output
    assert Path("out/metals/own.toml").read_text() == EXAMPLE_STANZA
    assert Path(f"out/metals/{EXAMPLE_NAME}.csv").read_text() == EXAMPLE_ROWS
    assert regen("solve", "out/sized.toml", "-o", "solved").exit_code == 0


def test_a_table_outside_the_folder_is_refused_before_the_search(regen, water, cheap):
    Path("width.csv").write_text("x [mm], width [mm]\n-80, 1.2\n40, 1.2\n")
    Path("inner").mkdir()
    Path("inner/case.toml").write_text(edited(water, {"channels.width": {"file": "../width.csv"}}))
    refused = regen("size", "inner/case.toml", "-o", "out", *sets())
    assert refused.exit_code == 2
    assert '"../width.csv", outside its folder' in refused.stderr
    assert cheap.calls == 0
    assert not Path("out").exists()


def test_without_a_feasible_design_it_says_what_to_relax(regen, water, cheap, sized):
    shutil.copytree(sized[0], "out")
    cheap.T_limit = 320.0
    failed = regen("size", water, "-o", "out", *sets())
    assert failed.exit_code == 3, failed.output
    assert "no feasible design" in failed.stdout
    assert "nearest limit: hot wall temperature" in failed.stdout
    assert "limits.T_wall_hot" in failed.stdout
    size = json.loads(Path("out/size.json").read_text())
    assert size["words"] == failed.stdout.splitlines()[:-1]
    assert size["feasible"] is False
    assert size["files"] == {}
    assert size["verdict"] is None
    assert not Path("out/sized.toml").exists()  # nor the picture of another answer
    assert not Path("out/figures/sizing.svg").exists()


def test_a_sized_case_changed_by_hand_stays_and_is_named(regen, water, cheap, sized):
    shutil.copytree(sized[0], "out")
    case = Path("out/sized.toml")
    case.write_text(case.read_text() + "# mine\n")
    cheap.T_limit = 320.0
    failed = regen("size", water, "-o", "out", *sets())
    assert failed.exit_code == 3
    assert case.read_text().endswith("# mine\n")
    assert "out/sized.toml is of an earlier run" in failed.stderr


def test_an_answer_that_a_full_solve_does_not_bear_out_is_no_answer(regen, water, cheap):
    # the model knows no limit; the physics finds the wall of the shallow, slow slots too hot
    failed = regen("size", water, "-o", "out", *sets("limits.T_wall_hot=330 K"))
    assert failed.exit_code == 3, failed.output
    assert "a full solve does not find these met" in failed.stdout
    assert "hot wall temperature, nominal: missed by" in failed.stdout
    assert not Path("out/sized.toml").exists()


def test_nothing_that_solves_is_exit_three_in_words(regen, water, cheap):
    cheap.unsolved = lambda count, *_: count > 0
    failed = regen("size", water, "-o", "out", *sets())
    assert failed.exit_code == 3, failed.output
    assert "no design within the bounds was solved" in failed.stdout
    assert json.loads(Path("out/size.json").read_text())["objective"] is None


@pytest.mark.full
def test_the_number_of_threads_changes_nothing(regen, water):
    few = sets(
        'sizing.free=["depth"]', "sizing.held_at=worst channel", "limits.burnout_fraction=0.9"
    )
    for threads in ("1", "2"):
        done = regen("size", water, "-o", threads, "--threads", threads, *few)
        assert done.exit_code == 0, done.output
    names = ("size.json", "sized.toml", "figures/sizing.svg")
    assert [n for n in names if Path("1", n).read_bytes() != Path("2", n).read_bytes()] == []


def test_a_folder_in_whose_way_a_file_is_is_found_first(regen, water, cheap):
    Path("out").write_text("mine")
    refused = regen("size", water, "-o", "out", *sets())
    assert refused.exit_code == 2
    assert "out is a file" in refused.stderr
    assert cheap.calls == 0


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--set", "sizing.width_from=3 mm", "--set", "sizing.width_to=2 mm"), "not above"),
        (("--set", 'sizing.free=["count","wal"]'), 'did you mean "wall"'),
        (("--set", "sizing.depth_from=9 mm"), "not above 9 mm, the lower bound"),
        (("--seed", "-1"), "--seed"),
        (("--threads", "0"), "--threads"),
    ],
)
def test_bad_input_is_exit_code_two_and_writes_nothing(regen, water, arguments, message):
    refused = regen("size", water, "-o", "out", *arguments)
    assert refused.exit_code == 2, refused.output
    assert message in " ".join(refused.stderr.split())
    assert not Path("out").exists()


def test_a_full_disk_is_exit_code_two(regen, water, cheap, monkeypatch):
    from regen.output import folder

    def full(*_):
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(folder, "_replace_all", full)
    refused = regen("size", water, "-o", "out", *sets())
    assert refused.exit_code == 2
    assert "cannot write out: No space left on device" in refused.stderr


def test_help_says_what_it_does(regen):
    done = regen("size", "--help")
    assert done.exit_code == 0
    for words in ("--seed", "--threads", "sized.toml is proved by a full solve"):
        assert words in " ".join(done.stdout.split())

"""Flow paths: which way the coolant goes, where it turns or comes to rest, and what is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from regen.design import (
    Chamber,
    Channels,
    Circuit,
    ContourShape,
    Coolant,
    Design,
    Liner,
    Models,
    Profile,
    Propellants,
)
from regen.errors import GeometryError
from regen.geometry.circuits import geometry_of, joined_passage, lay_paths, rows_of
from regen.geometry.contour import build_contour

SHAPE = ContourShape(contraction_ratio=6.0, area_ratio=3.0, throat_diameter=0.04, barrel_length=0.1)
CHANNELS = Channels(60, Profile.constant(0.8e-3), Profile.constant(1.5e-3), 4e-6)
CONTOUR = build_contour(SHAPE)
START, STOP = CONTOUR.x_injector, CONTOUR.x_exit


def design(*circuits: Circuit, stations: int = 30, **channels) -> Design:
    return Design(
        title="Linnet test",
        propellants=Propellants("oxygen", "methane", 3.0),
        chamber=Chamber(pressure=30e5),
        contour=SHAPE,
        liner=Liner("Cu-Cr-Zr", "annealed", Profile.constant(0.8e-3)),
        channels=replace(CHANNELS, **channels),
        coolant=Coolant("water", 300.0, mass_flow=0.5, inlet_pressure=40e5),
        models=Models(stations=stations),
        circuits=circuits,
    )


def circuit(name: str, start: float | None, stop: float | None, end="nozzle", **channels):
    return Circuit(
        name, replace(CHANNELS, cooled_from=start, cooled_to=stop, **channels), enters_at=end
    )


def laid(*circuits: Circuit, **given):
    return lay_paths(design(*circuits, **given), CONTOUR)


def test_one_circuit_one_way_is_the_whole_length_once():
    (path,) = laid()
    assert path.name == "all slots"
    assert path.order.tolist() == list(range(29, -1, -1))
    x = path.flowing("x")
    assert (x[0], x[-1]) == pytest.approx((STOP, START))
    # the lengths of the steps are those between the stations they join
    assert path.steps("step_gas")[1:] == pytest.approx(path.passage.step_gas[:0:-1], rel=0)
    assert path.steps("step_passage")[0] == 0.0
    assert path.plenum.tolist() == [1.0] + 29 * [0.0]
    assert not path.loss.any()
    assert path.length == pytest.approx(np.cumsum(path.steps("step_passage")))


def test_down_and_back_turns_once_on_the_same_stations():
    (path,) = laid(passes="down and back", turn_loss=1.7)
    assert path.order.size == 60
    x = path.flowing("x")
    assert x[:30] == pytest.approx(x[:29:-1], rel=0)  # back over the same stations
    assert x[0] == x[-1] == pytest.approx(STOP)
    assert x[29] == x[30] == pytest.approx(START)
    assert path.pass_number.tolist() == 30 * [1] + 30 * [2]
    assert np.flatnonzero(path.loss).tolist() == [30]
    assert path.loss[30] == 1.7
    assert path.steps("step_gas")[30] == path.steps("step_passage")[30] == 0.0
    assert path.plenum.sum() == 1.0
    assert path.length[-1] == pytest.approx(2.0 * path.passage.step_passage.sum())
    assert np.all(np.diff(path.length) >= 0.0)
    geometry = geometry_of(design(passes="down and back"), (path,))
    assert np.all(geometry.share == 0.5)
    assert np.all(geometry.slots == 30.0)
    # the lands are those of all slots: pitch 2 pi r share/slots is that of the circumference
    pitch = 2 * np.pi * geometry.floor_radius * geometry.share / geometry.slots
    expected = 2 * np.pi * path.flowing("floor_radius") / 60
    assert pitch[0] == pytest.approx(expected, rel=1e-14)


def test_the_turn_at_the_nozzle_end_is_a_step_of_no_length():
    (path,) = laid(circuit("all", None, None, "injector", passes="down and back"))
    assert path.passage.step_gas[-1] > 0.0
    assert path.steps("step_gas")[30] == path.steps("step_passage")[30] == 0.0
    for name in ("step_gas", "step_passage"):
        assert path.steps(name).sum() == pytest.approx(2.0 * getattr(path.passage, name).sum())


def test_a_bend_is_the_same_for_flow_either_way():
    (down,), (up,) = laid(), laid(circuit("all", None, None, "injector"))
    one = geometry_of(design(), (down,)).bend[0]
    other = geometry_of(design(), (up,)).bend[0]
    # the step from station i to i + 1 is that from i + 1 to i
    assert one[1:] == pytest.approx(other[:0:-1], rel=1e-9)
    assert one.max() > 0.0 > one.min()  # outside of the bend at the throat, inside before it


@pytest.mark.parametrize(("end", "slots"), [("nozzle", (40, 60)), ("injector", (60, 40))])
def test_where_the_count_changes_the_station_is_repeated_behind_a_plenum(end, slots):
    (path,) = laid(circuit("all", None, None, end, count_changes=((-0.03, 40),)))
    count, x = path.flowing("count"), path.flowing("x")
    at = int(np.flatnonzero(path.plenum)[1])
    assert path.plenum.sum() == 2.0
    assert x[at] == x[at - 1] == pytest.approx(-0.03)
    assert (count[at - 1], count[at]) == slots
    assert set(count[:at]) == {slots[0]}
    assert set(count[at:]) == {slots[1]}
    assert path.steps("step_gas")[at] == path.steps("step_passage")[at] == 0.0
    assert path.heated[at] == 0.0
    assert path.heated[-1] == pytest.approx(path.length[-1] - path.length[at])
    pitch = 2 * np.pi * path.flowing("floor_radius") / count
    assert path.flowing("land") == pytest.approx(pitch - 0.8e-3, rel=1e-12)


def test_a_count_that_changes_beyond_the_slots_or_at_their_end_makes_no_plenum():
    (path,) = laid(count_changes=((START - 0.01, 50), (STOP, 40), (STOP + 0.1, 30)))
    assert path.plenum.sum() == 1.0
    assert set(path.flowing("count")) == {50.0}


def test_all_circuits_have_as_many_stations_whatever_their_passes():
    paths = laid(
        circuit("a", None, -0.06, passes="down and back"),
        circuit("b", -0.06, -0.02, "injector", count_changes=((-0.04, 40),)),
        circuit("c", -0.02, None),
    )
    assert {path.order.size for path in paths} == {60}
    assert [path.x.size for path in paths] == [30, 59, 60]


def test_rows_rise_and_pieces_are_never_joined():
    paths = laid(
        circuit("c", 0.0, None),
        circuit("a", None, -0.06, passes="down and back"),
        circuit("b", -0.06, -0.02, count_changes=((-0.04, 40),)),
    )
    rows = rows_of(paths)
    x = rows.joined([path.flowing("x") for path in paths])
    assert np.all(np.diff(x) >= 0.0)
    assert sorted(rows.index) == list(range(3 * paths[0].order.size))
    # one for c, two passes of a, two parts of b
    assert len(rows.pieces) == 5
    for piece in rows.pieces:
        assert np.all(np.diff(x[piece]) > 0.0)
        assert len(set(rows.circuit[piece])) == len(set(rows.pass_number[piece])) == 1
    assert sum(piece.size for piece in rows.pieces) == x.size
    # columns belong to their rows
    passage = joined_passage(paths, rows)
    assert passage.x == pytest.approx(x, rel=0)
    assert passage.r == pytest.approx(CONTOUR.radius(x), rel=1e-12)
    assert set(passage.count[(x > -0.0399) & (x < -0.021)]) == {40.0}
    assert set(rows.circuit[x > 0.001]) == {1.0}


def refusal(*circuits: Circuit, **given) -> str:
    with pytest.raises(GeometryError) as caught:
        laid(*circuits, **given)
    return str(caught.value)


def test_circuits_that_overlap_are_refused():
    said = refusal(circuit("a", None, -0.05), circuit("b", -0.06, None))
    assert "circuits.b" in said
    assert "circuits.a runs from" in said
    assert "overlap" in said
    # a gap is no overlap, nor are ends that meet
    assert len(laid(circuit("a", None, -0.06), circuit("b", -0.05, None))) == 2
    assert len(laid(circuit("b", -0.05, None), circuit("a", None, -0.05))) == 2


def test_every_place_that_is_wrong_is_said_at_once():
    said = refusal(circuit("a", -0.9, -0.05), circuit("b", -0.05, 0.9), circuit("c", 0.0, 0.0005))
    assert "circuits.a: cooled_from: -900 mm is off the contour" in said
    assert "circuits.b: cooled_to: 900 mm is off the contour" in said
    assert "circuits.c: it is only 0.5 mm long" in said
    assert "at least 1 mm" in said


def test_a_circuit_beyond_the_cooled_length_of_the_channels_is_refused():
    said = refusal(circuit("a", -0.10, -0.05), cooled_from=-0.08)
    assert "circuits.a" in said
    assert "beyond the cooled length of [channels] from -80 mm" in said


def test_too_few_stations_or_no_land_name_the_circuit():
    points = tuple(np.linspace(-0.05, 0.0, 25))
    many = Profile(points, tuple(1e-3 + 1e-5 * n for n in range(25)))
    said = refusal(circuit("a", None, -0.05), circuit("b", -0.05, None, depth=many), stations=20)
    assert said.startswith("circuits.b: models.stations: 20 given")
    said = refusal(circuit("a", None, 0.0, count=400), circuit("b", 0.0, None))
    assert said.startswith("circuits.a: channels: land width <= 0 at x = 0 mm")


@pytest.mark.parametrize("end", ["nozzle", "injector"])
def test_a_bend_has_the_hot_wall_outside_at_the_throat_and_inside_at_the_barrels_end(end):
    """By hand, of the mid-line 0.8 + 0.75 mm outside the contour.

    At the throat the centre of curvature is outside the gas, so that the hot wall is farther from
    it than the slot: positive, and the mid-line's radius is the arc's less 1.55 mm. Where the
    barrel ends the centre is in the gas: negative, and 1.55 mm more. Lines do not bend.
    """
    given = replace(design(stations=120), coolant=replace(design().coolant, enters_at=end))
    paths = lay_paths(given, CONTOUR)
    bend, x = geometry_of(given, paths).bend[0], paths[0].flowing("x")
    middle = 0.5 * (x[1:] + x[:-1])
    _, x1, x2, x3, _, x5, _ = CONTOUR.breakpoints
    off = 1.55e-3
    wanted = np.select(
        [middle < x1, middle < x2, middle < x3, middle < 0.0, middle < x5],
        [0.0, -1 / (0.02 + off), 0.0, 1 / (0.03 - off), 1 / (0.382 * 0.02 - off)],
        0.0,
    )
    # steps are measured along chords of the mid-line
    assert bend[1:] == pytest.approx(wanted, rel=0.01, abs=1e-6)
    at_throat = np.argmin(np.abs(x[1:])) + 1
    assert bend[at_throat] > 0.0

"""Ring manifolds of a case in place of the shop's rule for the worst channel."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from regen.case.read import load_case
from regen.checks.review import review
from regen.errors import RangeError
from regen.physics import arrays as A
from regen.solver import manifolds
from regen.solver.solve import solve
from tests.helpers.places import CASES, WATER

NARROW = ("manifolds.inlet_bore=5 mm", "manifolds.inlet_taps=1")

SAME_RUN = 1e-12
SHARE_READ = 2e-3  # two searches for the worst slot's flow, each to 1e-4 of the drop


def test_the_worst_slot_lacks_what_the_rings_keep_from_it():
    plain = solve(load_case(WATER, ["shop.flow_shortfall=0.0"]).design)
    fed = solve(load_case(WATER, NARROW).design)
    assert plain.split is None
    assert fed.split is not None
    assert 0.02 < fed.shortfall < 0.2
    assert fed.shortfall == fed.split.shortfall
    assert fed.nominal.total == pytest.approx(plain.nominal.total, rel=SAME_RUN)
    ratio = fed.worst.total[A.T_MASS_FLOW] / plain.worst.total[A.T_MASS_FLOW]
    assert ratio == pytest.approx(1.0 - fed.shortfall, rel=SHARE_READ)


def test_without_manifolds_the_shop_s_rule_holds():
    solution = solve(load_case(WATER).design)
    assert solution.split is None
    assert solution.shortfall == 0.10
    result = review(load_case(WATER).design)
    assert "maldistribution" not in result.summary
    assert "manifold_headers" not in result.provenance["sources"]
    (note,) = [n for n in result.notes if n.code == "worst channel"]
    assert note.text.endswith("less 10 % by shop.flow_shortfall")


def test_the_result_tells_rings_and_starved_slot():
    result = review(load_case(WATER, NARROW).design)
    assert 0.02 < result.summary["maldistribution"] < 0.2
    assert "manifold_headers" in result.provenance["sources"]
    (note,) = [n for n in result.notes if n.code == "manifolds"]
    # 0.6 kg/s of 1000 kg/m3 in two arms of 5 mm: 15.3 m/s, 1.17 bar
    for word in ("inlet ring of 5 mm bore, 15.3 m/s and 1.2 bar", "beside the inlet tap", "10%"):
        assert word in note.text
    (note,) = [n for n in result.notes if n.code == "worst channel"]
    assert note.text.endswith("by the manifolds")


def test_the_exponent_is_the_march_s():
    # friction of a fully rough pipe goes as flow squared, of a smooth one as flow^1.8; a heated
    # dense gas comes out lighter with less flow, so its drop falls less
    water = solve(load_case(WATER, NARROW).design).split
    assert 1.75 < water.exponent < 2.0
    methane = load_case(CASES / "a-methane.toml", []).text.replace("flow_shortfall", "# ")
    hot = _from_text(methane, "manifolds.inlet_bore=16 mm", "manifolds.inlet_taps=2")
    assert 1.0 < hot.exponent < 1.75


def _from_text(text: str, *overrides: str):
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "case.toml"
        path.write_text(text, encoding="utf-8")
        return solve(load_case(path, overrides).design).split


def test_a_ring_on_a_cone_lies_on_the_outside_of_its_jacket(monkeypatch):
    ends = []

    def seen(given, table, inlet, outlet, roughness):
        ends.extend((inlet, outlet))
        return rings(given, table, inlet, outlet, roughness)

    rings = manifolds.rings
    monkeypatch.setattr(manifolds, "rings", seen)
    cone = ('contour.nozzle="cone"', 'contour.divergent_half_angle="20 deg"')
    solution = solve(load_case(WATER, [*NARROW, *cone]).design)
    # 12.5 mm and the root of 2.5 times it at the exit; 1 mm of wall, 1 mm of slot, 0.2 mm of copper
    # and 2 mm of nickel, 4.2 mm along a normal 20 degrees off the radius
    at_exit = 12.5e-3 * math.sqrt(2.5) + 4.2e-3 * math.cos(math.radians(20.0))
    in_barrel = 12.5e-3 * math.sqrt(6.0) + 4.2e-3
    assert [end.radius for end in ends] == pytest.approx([at_exit, in_barrel], rel=1e-9)
    assert solution.split is not None


def test_the_outlet_ring_s_tap_is_turned():
    rings = (
        *("manifolds.inlet_bore=8 mm", "manifolds.inlet_taps=2"),
        *("manifolds.outlet_bore=8 mm", "manifolds.outlet_taps=2"),
    )
    found = [
        solve(load_case(WATER, (*rings, f"manifolds.outlet_turn={turn} deg")).design).shortfall
        for turn in (0, 90)
    ]
    # opposite taps: what one ring starves the other starves too
    assert found[0] < found[1]


def test_slots_down_and_back_are_half_as_many_ways_between_the_rings():
    high = [*NARROW, "coolant.inlet_pressure=120 bar"]
    one_way = solve(load_case(WATER, high).design).split
    back = solve(load_case(WATER, [*high, "channels.passes=down and back"]).design).split
    assert (one_way.share.size, back.share.size) == (36, 18)
    # half the ways at the same flow lose far more, so that the ring's head counts for less
    assert back.reaches[0].head == pytest.approx(one_way.reaches[0].head, rel=1e-6)
    assert back.shortfall < 0.5 * one_way.shortfall


def test_a_ring_that_cannot_feed_is_refused_in_words():
    tight = ("manifolds.inlet_bore=2 mm", "manifolds.inlet_taps=1")
    with pytest.raises(RangeError, match=r"manifolds.inlet_bore = 2 mm.*wider bore or more taps"):
        solve(load_case(WATER, tight).design)

"""Tables of cutters and tolerances on made-up results: whole rows, every cell worked by hand."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np

from regen import design as d
from regen.output import shop_cutters
from regen.result import Margin
from regen.shop.cutters.plan import CircuitCut, CutPlan
from regen.shop.cutters.tool_paths import Ramp, ToolPath
from regen.studies.release.as_machined import AtWidth, Machined
from regen.studies.release.tolerances import Effect, Size, Spread, Tolerances
from tests.helpers.rows import columns

T, DP = "T_wall_hot_max_K", "coolant_pressure_drop_Pa"


def cut_plan():
    flat = np.array([-0.1, 0.0])
    ramps = (Ramp("injector end", -0.1, 12.04e-3, False), Ramp("nozzle end", 0.0, 9.06e-3, True))
    cut = ToolPath(
        cutter=d.Cutter("saw", 0.8e-3, 5e-3, 63e-3),
        start=-0.1,
        stop=0.0123,
        passes=1,
        x=flat,
        r=flat,
        wall=flat,
        reach=2.357e-3,
        bridge=0.0712e-3,
        x_bridge=-0.0021,
        ramps=ramps,
    )
    circuit = CircuitCut(
        slot=SimpleNamespace(path=SimpleNamespace(name="all slots")),
        wall=flat,
        made_width=flat,
        tool_paths=(cut,),
        trials=(),
        problems=(),
        notes=(),
    )
    return CutPlan((circuit,))


def shown(table):
    return [dict(zip(table.headings, cells, strict=True)) for cells in table.texts()]


def solved(T_hot, drop, *margins):
    """Return what the tables ask of a result."""
    names = ("T_wall_cold_max_K", "q_max_W_m2", "coolant_temperature_out_K")
    summary = dict.fromkeys((*names, "coolant_pressure_out_Pa"), 1e6) | {T: T_hot, DP: drop}
    rows = tuple(
        Margin(name, name, "K", 800.0, "max", columns(value), 0.0, "pass", "common_practice")
        for name, value in margins
    )
    return SimpleNamespace(summary=summary, margins=rows, verdict="pass")


def test_one_row_of_what_cuts_the_slots():
    (row,) = shown(shop_cutters.cuts(cut_plan()))
    assert row == {
        "slots": "all slots",
        "cutter": "saw 0.8 mm, disc of 63 mm",
        "x from, mm": "-100.0",
        "to, mm": "12.3",
        "passes": "1",
        "depth of cut, mm": "2.36",
        "copper left, mm": "0.071",
        "at x, mm": "-2.1",
        "ramps and run-out, mm": "runs out 12.0 at -100.0, ramp 9.1 at 0.0",
    }


def test_the_design_as_drawn_and_as_machined():
    drawn = solved(748.3, 19.27e5, ("hot_wall_temperature", 0.065), ("coolant_mach", 0.04))
    machined = solved(760.3, 19.52e5, ("hot_wall_temperature", 0.0496))
    machined = Machined(cut_plan(), (), None, drawn, machined)
    rows = {cells[0]: tuple(cells[1:]) for cells in shop_cutters.changes(machined).texts()}
    assert rows["peak hot-gas-side wall temperature, K"] == ("750", "760", "+12")
    assert rows["coolant pressure drop, bar"] == ("19.3", "19.5", "+0.25")
    assert rows["margin: hot wall temperature"] == ("+6 %", "+5 %", "-1.5")
    assert rows["margin: coolant Mach number"] == ("+4 %", "no such limit", "-")
    assert shop_cutters.verdict(machined) == (
        "the cutters leave up to 0.071 mm of copper on the floor, at x = -2.1 mm: peak "
        "hot-gas-side wall +12 K, pressure drop +0.25 bar; verdict pass (as drawn: pass)"
    )


def test_effects_of_the_tolerances():
    """6 K for 0.03 mm are 2 K per 0.01 mm; 1.2 bar are 0.4."""
    effects = {T: Effect(6.2, -5.8, 2.0e5), DP: Effect(-1.1e5, 1.3e5, -4.0e9)}
    spread = Tolerances(
        sizes=(Size("width", 0.03e-3, effects),),
        spreads={T: Spread(700.0, 726.0, (1,), 16.9), DP: Spread(20e5, 22.7e5, (-1,), 1.92e5)},
        worst_channel=850.4,
        unsolved=(),
    )
    assert shown(shop_cutters.effects(spread)) == [
        {
            "size": "width",
            "tolerance, mm": "0.030",
            "peak hot-gas-side wall, K": "+6 / -6",
            "K per 0.01 mm": "+2.0",
            "pressure drop, bar": "-1.10 / +1.30",
            "bar per 0.01 mm": "-0.400",
        }
    ]
    assert shop_cutters.together(spread).texts() == [
        ["peak hot-gas-side wall, K", "700", "726 (+26)", "large width", "\u00b117"],
        ["pressure drop, bar", "20.00", "22.70 (+2.70)", "small width", "\u00b11.92"],
        ["worst channel, K", "-", "850", "one slot", "-"],
    ]


def test_one_width_of_the_shop():
    one = AtWidth(1.2e-3, (), 0.0351e-3, "solved", 712.4, 18.26e5, 0.043, "pass")
    assert shown(shop_cutters.widths([one])) == [
        {
            "width, mm": "1.2",
            "peak hot-gas-side wall, K": "712",
            "pressure drop, bar": "18.26",
            "least margin": "+4 %",
            "verdict": "pass",
            "copper left, mm": "0.035",
            "can it be cut": "yes",
        }
    ]

"""The wall of the march against two-dimensional finite elements on the true, tapered section.

Sections are drawn at random and solved as runs of one batch, coefficients and all; the finite
elements then get the coefficients that the march found. What is compared is a temperature over
the coolant's, as a share of what lies between gas and coolant.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest

from regen.checks.section import Film, Layer, Section, constant, solve_section
from regen.physics import arrays as A
from regen.physics import status as st
from regen.physics.batch import march_all
from tests.helpers.passages import metal, models, passage, runs

T_AW = 3200.0
RHO, MU, K, CP = 800.0, 2e-4, 0.15, 3000.0  # the made-up coolant


COMPARED = ("hot_max", "hot_mean", "floor_mean", "heat_in")


def section(w, t, d, t_wall, t_closeout, taper, k, k_c, *, h_c, h_g) -> Section:
    """One pitch between a coolant at 0 and a gas at 1: temperatures come out as fractions."""
    return Section(
        w,
        t,
        d,
        t_wall,
        taper,
        constant(k),
        (Layer(t_closeout, constant(k_c)),),
        gas=Film(constant(h_g), 1.0),
        coolant=Film(constant(h_c), 0.0),
    )


@dataclass(frozen=True)
class Box:
    """Where sections are drawn, and what the closed form is good for there.

    ``middle`` is what the central 95 of 100 sections and ``worst`` what every section must keep,
    low and high error of the hot wall's maximum; ``heat`` and ``floor`` are for every section.
    One cosine in the hot wall and one-dimensional land and closeout cannot do better. When the
    form was chosen, on other sections, the central 95 % lay within -0.3 and +0.8 % with a worst
    of 1.4 % in copper, within -0.3 and +1.7 % with a worst of 2.5 % in a poor conductor; a new
    draw may go a little beyond. The box of wide lands was not looked at then.
    """

    k: tuple[float, float]
    closeout_k: tuple[float, float]  # over that of the liner
    aspect: tuple[float, float]
    land: tuple[float, float]  # over width
    middle: tuple[float, float]
    worst: tuple[float, float]
    heat: float
    floor: tuple[float, float]


BOXES = {
    # slots as they are milled in copper under electroformed copper and some nickel
    "copper": Box(
        (200, 380), (0.6, 1), (1.5, 8), (0.5, 1.5),
        middle=(-0.008, 0.012), worst=(-0.013, 0.018), heat=0.005, floor=(-0.02, 0.03),
    ),
    # wide lands in the barrel, shallow slots, nickel: mostly too hot, so on the safe side
    "wide and shallow": Box(
        (200, 380), (0.2, 1), (0.5, 4), (1.0, 4.0),
        middle=(-0.015, 0.05), worst=(-0.08, 0.09), heat=0.035, floor=(-0.02, 0.13),
    ),
    # nickel alloys and steels: the slot floor alone is a tenth off
    "poor conductor": Box(
        (12, 25), (1, 1), (1.5, 8), (0.5, 1.5),
        middle=(-0.005, 0.0167), worst=(-0.01, 0.0245), heat=0.008, floor=(-0.01, 0.12),
    ),
}  # fmt: skip


def draw(box: Box, count: int, seed: int):
    """Solve ``count`` random sections; return them with what the march found."""
    random = np.random.default_rng(seed)

    def between(low: float, high: float) -> np.ndarray:
        return np.exp(random.uniform(math.log(low), math.log(high), count))

    w = between(0.5e-3, 1.5e-3)
    t = w * between(*box.land)
    d = w * random.uniform(*box.aspect, count)
    t_wall = random.uniform(0.5e-3, 1.2e-3, count)
    t_closeout = random.uniform(1e-3, 5e-3, count)
    slots = random.integers(40, 200, count).astype(float)
    k = between(*box.k)
    k_c = k * random.uniform(*box.closeout_k, count)
    # the flow that gives the coefficient wanted, by 0.023 Re^0.8 Pr^0.4
    h_c = between(2e4, 1.5e5)
    Dh = 2 * w * d / (w + d)
    Re = (h_c * Dh / K / 0.023 / (MU * CP / K) ** 0.4) ** 1.25
    column = {
        "r": slots * (w + t) / (2 * math.pi) - t_wall,
        "width": w,
        "depth": d,
        "wall": t_wall,
        "slots": slots,
        "closeout": t_closeout,
    }
    return {
        "section": (w, t, d, t_wall, t_closeout, np.pi / slots, k, k_c),
        "shape": passage(2, 1e-4, **{n: v[:, None] for n, v in column.items()}),
        "walls": metal(k, k_c),
        "runs": runs(
            count,
            geometry=np.arange(count),
            wall=np.arange(count),
            mass_flow=Re * MU / Dh * slots * w * d,
            gas_factor=between(0.2, 3.0),
            pressure=390e5,
        ),
    }


def errors(box: Box, count: int, seed: int, coolant, gas) -> dict[str, np.ndarray]:
    """Return relative errors of hottest and mean hot wall, slot floor and heat."""
    drawn = draw(box, count, seed)
    out, status = march_all(
        drawn["shape"], gas(2), coolant, drawn["walls"], drawn["runs"], models(count)
    )
    assert np.all(status[:, 0] == st.OK)
    rows = out.station[:, 0]
    fractions = [
        solve_section(
            section(
                *(float(v[n]) for v in drawn["section"]),
                h_c=float(rows[n, A.O_H_COOLANT]),
                h_g=float(rows[n, A.O_H_GAS]),
            )
        )
        for n in range(count)
    ]
    found = {name: np.array([getattr(f, name) for f in fractions]) for name in COMPARED}
    T = rows[:, A.O_T_COOLANT]
    drive = T_AW - T
    # half a pitch of hot surface carries the flux
    half = drawn["shape"].r[:, 0] * np.pi / drawn["shape"].slots[:, 0]
    return {
        "hot_max": (rows[:, A.O_T_WALL_HOT] - T) / drive / found["hot_max"] - 1,
        "hot_mean": (rows[:, A.O_T_WALL_HOT_MEAN] - T) / drive / found["hot_mean"] - 1,
        "floor": rows[:, A.O_Q_WETTED] / rows[:, A.O_H_COOLANT] / drive / found["floor_mean"] - 1,
        "heat": rows[:, A.O_Q] * half / drive / found["heat_in"] - 1,
    }


def judge(box: Box, found: dict[str, np.ndarray]) -> None:
    hot = found["hot_max"]
    low, high = np.percentile(hot, [2.5, 97.5])
    assert box.middle[0] < low
    assert high < box.middle[1]
    assert box.worst[0] < hot.min()
    assert hot.max() < box.worst[1]
    assert np.abs(found["heat"]).max() < box.heat
    assert box.floor[0] < found["floor"].min()
    assert found["floor"].max() < box.floor[1]


@pytest.mark.parametrize("name", BOXES)
def test_wall_of_the_march_against_finite_elements(name, constant_coolant, plain_gas):
    """Forty sections in all; .ci/full draws six hundred others."""
    count = {"copper": 20, "wide and shallow": 10, "poor conductor": 10}[name]
    judge(BOXES[name], errors(BOXES[name], count, 20, constant_coolant, plain_gas))


@pytest.mark.full
@pytest.mark.parametrize("name", BOXES)
def test_wall_of_the_march_against_many_finite_elements(name, constant_coolant, plain_gas):
    judge(BOXES[name], errors(BOXES[name], 200, 600, constant_coolant, plain_gas))

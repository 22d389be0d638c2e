"""Hottest place of the slot floor from a run's columns, against a cosine made by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from regen.checks.stations import floor_temperature
from regen.physics import arrays as A

T_BULK, H = 250.0, 80e3
QUADRATURE = 1e-10


class Slots:
    """The two lengths of a passage that count here [m]."""

    def __init__(self, width: float, land: float) -> None:
        self.width, self.land = np.array([width]), np.array([land])


@pytest.mark.parametrize("width", [0.4e-3, 1.0e-3, 2.0e-3])
@pytest.mark.parametrize("land", [0.5e-3, 1.5e-3])
@pytest.mark.parametrize("swing", [60.0, -25.0])
def test_the_hottest_place_of_a_cosine(width, land, swing):
    """T(y) = 700 K + swing cos(2 pi y/(w + t)) over the floor 0..w/2."""

    def T(y: float) -> float:
        return 700.0 + swing * np.cos(2.0 * np.pi * y / (width + land))

    mean = quad(T, 0.0, 0.5 * width, epsabs=0.0, epsrel=QUADRATURE)[0] / (0.5 * width)
    row = np.zeros((1, A.N_STATION_OUT))
    row[0, A.O_T_COOLANT], row[0, A.O_H_COOLANT], row[0, A.O_T_WALL_COLD] = T_BULK, H, 700.0
    row[0, A.O_Q_WETTED] = H * (mean - T_BULK)
    expected = T(0.0) if swing > 0.0 else T(0.5 * width)
    assert floor_temperature(row, Slots(width, land))[0] == pytest.approx(expected, rel=1e-9)

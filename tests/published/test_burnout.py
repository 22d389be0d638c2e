import numpy as np
import pytest

from regen.physics.burnout import hall_mudawar_inlet, hall_mudawar_outlet
from regen.physics.registry import CORRELATIONS

# Worked by hand from the printed equations with logarithms of six digits.
HAND = 1e-4
# Values worked elsewhere from the same equations and printed to two or three digits; saturation
# properties here are those of the reference equations of state of ethanol and water, rounded.
PRINTED = 0.012

# water-like round numbers: We = 1e8*1e-3/(800*0.025) = 5000, r = 40, ln We = 8.517193,
# ln r = 3.688879
ROUND = {"G": 1e4, "D": 1e-3, "rho_l": 800.0, "rho_v": 20.0, "h_fg": 1.7e6, "sigma": 0.025}


def test_inlet_form_by_hand():
    # We^-0.312 = 0.070133, r^-0.644 = 0.092955: first = 0.0722*... = 4.70688e-4
    # 0.900 r^0.724 = 13.00572; x = -0.5, L/D = 30:
    # q = 1.7e10 * 4.70688e-4 * 7.50286 / (1 + 4*4.70688e-4*13.00572*30 = 1.734596)
    assert hall_mudawar_inlet(L=0.03, x_in=-0.5, **ROUND) == pytest.approx(34.611e6, rel=HAND)


def test_outlet_form_by_hand():
    # We^-0.235 = 0.135127, r^-0.681 = 0.081096: first = 0.0332*... = 3.63811e-4
    # 0.684 r^0.832 = 14.72207; x = -0.3: q = 1.7e10 * 3.63811e-4 * 5.416622
    assert hall_mudawar_outlet(x_out=-0.3, **ROUND) == pytest.approx(33.501e6, rel=HAND)


# G 15 000 kg/m2s, D 1.5 mm, L/D 30; mark: computed (forms from memory-high, unverified for
# ethanol). rho_l, rho_v, sigma, h_fg at saturation, inlet quality, flux in MW/m2.
WORKED = [
    ("ethanol 30 bar 300 K", 554.196, 49.7487, 4.443e-3, 504183.0, -1.16175, 16.3),
    ("ethanol 30 bar 400 K", 554.196, 49.7487, 4.443e-3, 504183.0, -0.58201, 9.3),
    ("ethanol 45 bar 300 K", 488.163, 84.948, 2.106e-3, 381670.0, -1.81696, 14.8),
    ("ethanol 45 bar 400 K", 488.163, 84.948, 2.106e-3, 381670.0, -1.05298, 9.5),
    ("ethanol 55 bar 300 K", 418.713, 123.316, 0.815e-3, 269952.0, -2.85753, 11.6),
    ("ethanol 55 bar 400 K", 418.713, 123.316, 0.815e-3, 269952.0, -1.77903, 7.8),
    ("water 45 bar 300 K", 787.621, 22.6969, 24.086e-3, 1675699.0, -0.60008, 47.0),
    ("water 45 bar 400 K", 787.621, 22.6969, 24.086e-3, 1675699.0, -0.34993, 30.0),
]


@pytest.mark.parametrize("case", WORKED, ids=[case[0] for case in WORKED])
def test_inlet_form_in_worked_cases(case):
    _, rho_l, rho_v, sigma, h_fg, x_in, expected = case
    q = hall_mudawar_inlet(15e3, 1.5e-3, 45e-3, x_in, rho_l, rho_v, h_fg, sigma)
    assert q == pytest.approx(expected * 1e6, rel=PRINTED)


def test_forms_agree_where_their_authors_put_them_side_by_side():
    # Both forms fit the same water data; with the outlet quality from a heat balance over the
    # heated length they must give about the same flux. The outlet form's median is 0.83 of the
    # inlet form's on 604 water points (23 % mean error): a factor of 1.5 catches a slip.
    L_D = 30.0
    q_in = hall_mudawar_inlet(L=0.03, x_in=-0.5, **ROUND)
    x_out = -0.5 + 4.0 * L_D * q_in / (ROUND["G"] * ROUND["h_fg"])
    q_out = hall_mudawar_outlet(x_out=x_out, **ROUND)
    assert 1 / 1.5 < q_out / q_in < 1.5


def test_trends_of_water_burnout():
    at = {**ROUND, "L": 0.03, "x_in": -0.5}
    q = hall_mudawar_inlet(**at)
    assert hall_mudawar_inlet(**{**at, "G": 2e4}) > q  # more flow
    assert hall_mudawar_inlet(**{**at, "x_in": -0.7}) > q  # more subcooling
    assert hall_mudawar_inlet(**{**at, "L": 0.06}) < q  # a longer heated length
    assert hall_mudawar_inlet(**{**at, "D": 2e-3, "L": 0.06}) < q  # a wider tube, same L/D


def test_range_is_registered():
    inside = CORRELATIONS["hall_mudawar_outlet"].in_range(
        G=np.array([1e4, 1e4, 4e4]), D=np.array([1e-3, 20e-3, 1e-3]), x_out=-0.1
    )
    assert inside.tolist() == [True, False, False]

"""Critical heat flux [W/m2] of subcooled liquid flow: where nucleate boiling burns out."""

from __future__ import annotations

from regen.physics.registry import correlation


@correlation(
    "burnout",
    source="hall_mudawar2000",
    G=(300.0, 30e3),
    D=(0.25e-3, 15e-3),
)
def hall_mudawar_inlet(G, D, L, x_in, rho_l, rho_v, h_fg, sigma):
    """Water, from the inlet state and the heated length; x_in with saturation at the outlet.

    Bo = C1 We^C2 r^C3 (1 - C4 r^C5 x_in) / (1 + 4 C1 C4 We^C2 r^(C3+C5) L/D),
    We = G^2 D/(rho_l sigma), r = rho_l/rho_v, Bo = q/(G h_fg).
    """
    r = rho_l / rho_v
    first = 0.0722 * (G * G * D / (rho_l * sigma)) ** -0.312 * r**-0.644
    second = 0.900 * r**0.724
    return G * h_fg * first * (1.0 - second * x_in) / (1.0 + 4.0 * first * second * L / D)


@correlation(
    "burnout",
    source="hall_mudawar2000",
    G=(300.0, 30e3),
    D=(0.25e-3, 15e-3),
    x_out=(-1e3, 0.0),
)
def hall_mudawar_outlet(G, D, x_out, rho_l, rho_v, h_fg, sigma):
    """Water, from the local state: Bo = C1 We^C2 r^C3 (1 - C4 r^C5 x_out)."""
    r = rho_l / rho_v
    first = 0.0332 * (G * G * D / (rho_l * sigma)) ** -0.235 * r**-0.681
    return G * h_fg * first * (1.0 - 0.684 * r**0.832 * x_out)

"""Gas-side film coefficients [W/(m2 K)] on the hot-gas surface."""

from __future__ import annotations

from regen.physics._jit import jit
from regen.physics.registry import correlation


@jit
def throat_scaling(mu0, cp0, Pr0, p0, cstar, D_throat, R_throat):
    """Return the closed form's coefficient at the throat without sigma [W/(m2 K)].

    0.026/Dt^0.2 (mu^0.2 cp/Pr^0.6)_0 (p0/c*)^0.8 (Dt/rc)^0.1: the same for every station.
    """
    transport = mu0**0.2 * cp0 / Pr0**0.6
    return 0.026 / D_throat**0.2 * transport * (p0 / cstar) ** 0.8 * (D_throat / R_throat) ** 0.1


@jit
def station_scaling(h_throat, gamma0, area_ratio, mach):
    """Return what of the closed form does not depend on the wall: (h_flow, rise).

    h_flow = h_throat (At/A)^0.9 rise^-0.12 [W/(m2 K)], rise = 1 + (g-1)/2 M^2 [-].
    """
    rise = 1.0 + 0.5 * (gamma0 - 1.0) * mach * mach
    return h_throat * area_ratio**-0.9 * rise**-0.12, rise


@correlation("gas_side", source="bartz1957")
def bartz(h_flow, rise, T0, T_w):
    """Closed-form throat-scaled coefficient with wall correction, temperature-driven.

    Notes
    -----
    h = 0.026/Dt^0.2 (mu^0.2 cp/Pr^0.6)_0 (p0/c*)^0.8 (Dt/rc)^0.1 (At/A)^0.9 sigma,
    sigma = [0.5 Tw/T0 (1+(g-1)/2 M^2) + 0.5]^-0.68 [1+(g-1)/2 M^2]^-0.12, viscosity exponent
    0.6; all but the first bracket of sigma is h_flow of ``station_scaling``.
    cp and Pr are frozen: with equilibrium values the form gives 2.5 times too much.
    """
    return h_flow * (0.5 * T_w / T0 * rise + 0.5) ** -0.68


@correlation("gas_side", source="bartz1957", traits={"drive": "enthalpy"})
def bartz_enthalpy(h_flow, rise, T0, T_w):
    """Closed-form throat-scaled coefficient with wall correction, enthalpy-driven.

    Notes
    -----
    The coefficient of ``bartz``; the flux is h/cp0 (h_aw - h_w), so that the heat released by
    recombination next to the wall is counted.
    """
    return bartz(h_flow, rise, T0, T_w)


@correlation("gas_side", source="mcadams_film", traits={"reference": "film"}, Re_ref=(1.0e4, 1.0e8))
def pipe_film(Re_ref, Pr_ref, k_ref, D):
    """Pipe-type form with properties at the film temperature, temperature-driven.

    Notes
    -----
    h = 0.023 k/D Re^0.8 Pr^0.4 at the mean of wall and static gas temperature.
    """
    return 0.023 * k_ref / D * Re_ref**0.8 * Pr_ref**0.4


@correlation(
    "gas_side",
    source="eckert_reference",
    traits={"drive": "enthalpy", "reference": "enthalpy"},
    Re_ref=(1.0e4, 1.0e8),
)
def reference_enthalpy(Re_ref, Pr_ref, k_ref, D):
    """Pipe-type form with properties at the reference enthalpy, enthalpy-driven.

    Notes
    -----
    h = 0.026 k*/D Re*^0.8 Pr*^0.4 at h* = (h_w + h_e)/2 + 0.22 r u^2/2; the flux is
    h/cp* (h_aw - h_w) with frozen cp*.
    """
    return 0.026 * k_ref / D * Re_ref**0.8 * Pr_ref**0.4


@correlation(
    "gas_side",
    source="kays_crawford_integral",
    traits={"drive": "enthalpy", "reference": "enthalpy"},
    Re_ref=(1.0e4, 1.0e8),
)
def integral_layer(Re_ref, Pr_ref, k_ref, D, x_eff):
    """Integral turbulent boundary layer from the injector on, enthalpy-driven.

    Notes
    -----
    St = 0.0287 Pr^-0.4 Re_x^-0.2 at the reference enthalpy, on the length
    x_eff = int R^1.25 dh^1.25 G ds / (R^1.25 dh^1.25 G) of a flat plate with the same layer:
    axisymmetric flow, any pressure gradient, any wall temperature. No layer has grown at the
    injector face, so the form is highest there.
    """
    return 0.0287 * k_ref / x_eff * (Re_ref * x_eff / D) ** 0.8 * Pr_ref**0.6

"""Fixtures shared by the tests: a coolant of constant properties and a gas without surprises."""

from __future__ import annotations

import numpy as np
import pytest

from regen.physics import arrays as A
from regen.physics.tables import CoolantTable

RHO, MU, K, CP, SOUND = 800.0, 2e-4, 0.15, 3000.0, 1200.0
P_CRITICAL, P_MAX, T_LOW, T_TOP = 1e5, 400e5, 50.0, 2050.0


def build_constant_coolant() -> CoolantTable:
    """Return a table whose density, viscosity, conductivity and heat capacity never change."""
    n_xi, n_y = 201, 30
    centre, spread, shift = 0.2, 0.1, float(np.arcsinh(2.0))
    scale = 1.0 / (np.arcsinh(8.0) + shift)
    xi = np.linspace(0.0, 1.0, n_xi)
    s = centre + spread * np.sinh(xi / scale - shift)
    ds = spread * np.cosh(xi / scale - shift) / scale / (n_xi - 1)
    dense = np.zeros((n_xi, n_y, 6, 4))
    dense[:, :, 0, 0] = (T_LOW + s * (T_TOP - T_LOW))[:, None]
    dense[:, :, 0, 1] = (ds * (T_TOP - T_LOW))[:, None]
    for k, value in enumerate((RHO, MU, K, CP, SOUND), start=1):
        dense[:, :, k, 0] = np.log(value)
    edge = np.zeros((n_y, 2, 2))
    edge[:, 0, 0] = CP * T_LOW
    edge[:, 1, 0] = CP * T_TOP
    step = float(np.sqrt(np.log(P_MAX / P_CRITICAL)) / (n_y - 1))
    pseudo = np.zeros((n_y, 2))
    pseudo[:, 0] = 100.0
    return CoolantTable(
        dense=dense,
        dense_edge=edge,
        liquid=np.zeros((10, 10, 6, 4)),
        saturation=np.zeros((10, 7, 2)),
        pseudo_critical=pseudo,
        dense_y_step=step,
        liquid_y_step=0.1,
        centre=centre,
        spread=spread,
        shift=shift,
        scale=float(scale),
        p_critical=P_CRITICAL,
        T_critical=100.0,
        p_min=P_CRITICAL,
        p_max=P_MAX,
        T_min=T_LOW,
        T_max=1500.0,
        T_top=T_TOP,
        molar_mass=0.018,
    )


@pytest.fixture(scope="module")
def fresh_cache(tmp_path_factory):
    """Nothing of an older code: feeds and tables are built anew for the module."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("REGEN_CACHE", str(tmp_path_factory.mktemp("cache")))
        yield


@pytest.fixture(scope="session")
def constant_coolant() -> CoolantTable:
    """Return the table whose properties never change."""
    return build_constant_coolant()


def build_plain_gas():
    """Return a function (S stations) -> GasStations of one state everywhere."""

    def build(stations: int, h_aw: float = 6e6) -> A.GasStations:
        core = np.zeros((1, 1, stations, A.N_CORE))
        fields = {
            A.G_P: 20e5,
            A.G_T: 3000.0,
            A.G_RHO: 1.6,
            A.G_U: 800.0,
            A.G_H: 5.7e6,
            A.G_MACH: 0.7,
            A.G_MU: 9e-5,
            A.G_K: 0.35,
            A.G_CP: 2200.0,
            A.G_H_AW: h_aw,
            A.G_T_AW: 3200.0,
            A.G_AREA_RATIO: 1.2,
            A.G_FACTOR: 1.0,
        }
        for index, value in fields.items():
            core[..., index] = value
        stag = np.zeros((1, 1, A.N_STAGNATION))
        values = {
            A.S_P0: 30e5,
            A.S_T0: 3300.0,
            A.S_CSTAR: 1750.0,
            A.S_MU: 1e-4,
            A.S_CP: 2200.0,
            A.S_PR: 0.6,
            A.S_GAMMA: 1.15,
            A.S_THROAT_DIAMETER: 0.04,
            A.S_THROAT_CURVATURE: 0.02,
        }
        for index, value in values.items():
            stag[..., index] = value
        T = 200.0 + 40.0 * np.arange(90)
        layer = np.zeros((1, stations, 90, A.N_LAYER))
        layer[..., A.LAYER_H] = 1900.0 * (T - 300.0)
        layer[..., A.LAYER_MU] = 4e-7 * T**0.7
        layer[..., A.LAYER_K] = 1e-4 * T
        layer[..., A.LAYER_CP] = 1900.0
        layer[..., A.LAYER_MOLAR_MASS] = 0.022
        return A.GasStations(np.zeros((1, 1)), core, stag, layer, np.array([[200.0, 40.0]]))

    return build


@pytest.fixture(scope="session")
def plain_gas():
    """Return the function that builds a gas of one state everywhere."""
    return build_plain_gas()

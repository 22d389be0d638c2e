"""Arrays that cross into the compiled core: their names, order and shapes.

Letters: L runs, S stations in flow order (0 is the coolant inlet), G gas sets, W wall sets,
H nodes of total enthalpy, N nodes of temperature. All float64 and C-contiguous.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# --- gas core at a station: fields of GasStations.core ---------------------------------------
G_P, G_T, G_RHO, G_U, G_H, G_MACH, G_MU, G_K, G_CP = range(9)
G_H_AW, G_T_AW = 9, 10  # of the gas beside the wall, film included
G_AREA_RATIO, G_FACTOR = 11, 12
G_X_EFF = 13  # length of a flat plate with the boundary layer found here [m]
G_RADIATION = 14  # of the gas on a cold wall [W/m2]
G_BARREL = 15  # 1 in the barrel, 0 at the throat and downstream: whose fitted factor holds
N_CORE = 16

# --- stagnation and scalars of a gas set: fields of GasStations.stagnation --------------------
S_P0, S_T0, S_CSTAR, S_MU, S_CP, S_PR, S_GAMMA = range(7)
S_THROAT_DIAMETER, S_THROAT_CURVATURE = 7, 8
S_FEED_GAIN = 9  # change of total enthalpy with that of the feeds, at the case's efficiency
N_STAGNATION = 10

# --- gas next to the wall: fields of GasStations.layer ----------------------------------------
LAYER_H, LAYER_MU, LAYER_K, LAYER_CP, LAYER_MOLAR_MASS = range(5)
N_LAYER = 5


class GasStations(NamedTuple):
    """Hot gas at the stations, for G gas sets.

    ``h0`` (G, H) total enthalpy nodes [J/kg]; ``core`` (G, H, S, N_CORE) and ``stagnation``
    (G, H, N_STAGNATION) at each node; ``layer`` (G, S, N, N_LAYER) gas at station pressure and
    wall-layer composition on the uniform temperature nodes ``layer_T`` (G, 2): start, step [K].
    """

    h0: Array
    core: Array
    stagnation: Array
    layer: Array
    layer_T: Array


class Geometry(NamedTuple):
    """Channel geometry, each (L or 1, S) unless said; lengths [m].

    ``step_gas`` and ``step_passage``: length from the station before along the contour and
    along the slot's mid-line (0 at station 0); ``floor_radius`` radius of the slot floor.
    ``slots`` of this pass stand side by side; ``share`` is the part of the circumference that is
    theirs [-]: 1 unless passes run down and back between each other. ``plenum`` is 1 where the
    flow enters from a plenum at rest (station 0, and where slots change in number), ``loss`` the
    dynamic pressures lost on the way from the station before [-]. ``resistance`` of coating and
    deposit on the hot wall [m2 K/W]. ``bend`` is the mean curvature of the passage over the
    step from the station before [1/m], positive where the hot wall is on the outside.
    """

    r: Array
    floor_radius: Array
    cos_slope: Array
    width: Array
    depth: Array
    wall: Array
    slots: Array
    closeout: Array
    step_gas: Array
    step_passage: Array
    share: Array
    plenum: Array
    loss: Array
    resistance: Array
    bend: Array


class Walls(NamedTuple):
    """Conductivity tables [W/(m K)] on uniform temperature nodes.

    ``liner`` and ``closeout`` (W, N); ``T`` (2,) is start and step [K]. Values are held beyond
    the ends.
    """

    T: Array
    liner: Array
    closeout: Array


class GasSide(NamedTuple):
    """One run's hot gas inside the core: arrays (S, ...).

    ``local`` (S, 3) is worked out once a run: h_flow and rise of the closed form, and the
    factor on every coefficient.
    """

    model: int
    core: Array
    stag: Array
    layer: Array
    layer_T: Array
    local: Array


class Stream(NamedTuple):
    """Coolant bulk at one station, inside the core.

    ``x_D`` is the heated length in diameters; ``gain`` the factor of bend and roughness on the
    Nusselt number, ``entrance`` 1 where the inlet's is asked for.
    """

    p: float
    h: float
    T: float
    rho: float
    mu: float
    k: float
    cp: float
    Re: float
    Pr: float
    x_D: float
    Dh: float
    gain: float
    entrance: float


class Section(NamedTuple):
    """One pitch of the wall at one station, inside the core: lengths [m], ratios [-].

    ``taper`` is the growth of the land's half-width per depth, ``pitch_ratio`` the pitch at the
    hot surface over that at the channel root, ``resistance`` of what covers the hot wall [m2 K/W].
    """

    width: float
    land: float
    depth: float
    wall: float
    closeout: float
    taper: float
    pitch_ratio: float
    resistance: float


class Metal(NamedTuple):
    """Conductivity of one wall inside the core [W/(m K)].

    Of the liner on uniform temperature nodes ``T`` (2,), start and step [K]; of the closeout at
    the station.
    """

    T: Array
    liner: Array
    k_closeout: float


class Seed(NamedTuple):
    """What the wall balance of one station tells the next, inside the core.

    Rise from bulk to wetted wall as temperature [K] and as enthalpy [J/kg], gas coefficient on
    the metal, what covers it included [W/(m2 K)], rise through the hot wall [K], mean excess of
    the land's temperature over that of its root [-], and the slope of the balance over its
    estimate [-].
    """

    rise_T: float
    rise_h: float
    h_gas: float
    rise_wall: float
    land_mean: float
    gain: float


RUN = np.dtype(
    [
        ("geometry", np.int64),
        ("gas", np.int64),
        ("wall", np.int64),
        ("mass_flow", np.float64),  # all channels [kg/s]; used where fuel_share is 0
        ("fuel_share", np.float64),  # coolant flow over gas mass flow [-]
        ("flow_factor", np.float64),  # flow of this channel over the mean [-]
        ("gas_factor", np.float64),  # on the gas-side film coefficient [-]
        ("barrel_factor", np.float64),  # the same in the barrel [-]
        ("throat_factor", np.float64),  # and at the throat [-]
        ("inlet_temperature", np.float64),  # [K]
        ("pressure", np.float64),  # inlet plenum, or outlet plenum if outlet_given [Pa]
        ("outlet_given", np.int64),
        ("inlet_loss", np.float64),
        ("outlet_loss", np.float64),
        ("roughness", np.float64),  # sand grain [m]
        ("h0", np.float64),  # total enthalpy of the propellants as fed [J/kg]
        ("returns", np.float64),  # 1: heat picked up returns to the chamber
        ("curve_gain", np.float64),  # 1: bends may raise the film coefficient, not only lower it
        ("entrance", np.float64),  # 1: the inlet raises it, in forms that do not know the inlet
        ("rough_gain", np.float64),  # 1: roughness raises it
    ],
    align=True,
)

MODEL = np.dtype(
    [
        ("gas_side", np.int64),
        ("coolant_side", np.int64),
        ("friction", np.int64),
        ("boiling", np.int64),
        ("throat_factor", np.float64),  # on the gas side at the throat, fading to 1 in the barrel
    ],
    align=True,
)

# --- station results: fields of out.station ---------------------------------------------------
O_T_WALL_HOT, O_T_WALL_HOT_MEAN, O_T_WALL_COLD = range(3)
O_T_COOLANT, O_P_COOLANT, O_V_COOLANT, O_H_COOLANT = range(3, 7)
O_H_GAS, O_Q, O_Q_WETTED = range(7, 10)
O_ENTHALPY, O_RHO, O_RE, O_PR = range(10, 14)
O_FLAGS, O_T_AW, O_T_SURFACE = range(14, 17)
N_STATION_OUT = 17

# --- run totals: fields of out.total ---------------------------------------------------------
T_HEAT, T_MASS_FLOW, T_GAS_FLOW, T_H0, T_P_IN, T_P_OUT, T_H_IN, T_H_OUT, T_PASSES = range(9)
N_TOTAL = 9


class Out(NamedTuple):
    """Results: ``station`` (L, S, N_STATION_OUT), ``total`` (L, N_TOTAL)."""

    station: Array
    total: Array


# --- flags of a station, bits of O_FLAGS ------------------------------------------------------
FLAG_BOILING = 1  # coolant-side wall above saturation
FLAG_WALL_BEYOND_EOS = 2  # wall state above the equation of state's maximum temperature
FLAG_BULK_BEYOND_EOS = 4
FLAG_LAMINAR = 8
FLAG_WALL_ROOT_LOOSE = 16  # wall balance met only loosely (see march)
FLAG_NO_HEAT = 32  # gas beside the wall no hotter than the coolant: taken as adiabatic
FLAG_SEVERAL_ROOTS = 64  # more than one wall temperature balances: the hottest was taken
FLAG_NEAR_CRITICAL = 128  # just below the critical pressure, the wall as at it: the hotter one

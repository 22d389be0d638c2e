"""The registry of correlations: one function, one source, its range as data."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from regen.physics._jit import jit

ROLES = (
    "gas_side",
    "coolant_side",
    "friction",
    "boiling",
    "burnout",
    "curvature",
    "entrance",
    "roughness_heat",
)

CONDITIONS = {
    "p": "pressure, Pa",
    "p_r": "pressure over critical pressure",
    "T_ratio": "wall over bulk temperature",
    "T_in": "coolant inlet temperature, K",
    "x_D": "heated length in diameters",
    "D": "hydraulic diameter, m",
    "G": "mass flux, kg/(m2 s)",
    "q": "flux into the coolant, W/m2",
}
"""What a range may speak of besides a correlation's own arguments: conditions of its data."""

STANDS_FOR = {"n-dodecane": "kerosene"}
"""Coolants that stand in for what the data were taken with."""


@dataclass(frozen=True, slots=True)
class Correlation:
    """One registered correlation.

    ``ranges`` maps arguments and ``CONDITIONS`` to (low, high); ``fluids`` are those it was made
    for, empty if any. ``traits`` holds what the march must know of it besides its arguments: for
    the gas side ``drive`` ("enthalpy" or else by temperature) and ``reference``, where properties
    are taken ("film" or "enthalpy"; none if it asks for none); for the coolant side ``basis``,
    where the conductivity in its Nusselt number is taken ("film" or "wall", else the bulk).
    """

    name: str
    role: str
    source: str
    text: str
    function: Callable[..., Any]
    arguments: tuple[str, ...]
    ranges: dict[str, tuple[float, float]]
    traits: dict[str, str] = field(default_factory=dict)
    fluids: tuple[str, ...] = ()

    def __call__(self, *args: ArrayLike, **inputs: ArrayLike) -> NDArray[np.float64]:
        """Return the correlation of numbers or arrays, which are broadcast [SI].

        Leaving the range is not refused: see ``in_range``.
        """
        values: NDArray[np.float64] = np.vectorize(self.function, otypes=[np.float64])(
            *args, **inputs
        )
        return values[()]

    def fits(self, fluid: str) -> bool:
        """Return whether it was made for this coolant, or for any."""
        return not self.fluids or fluid in self.fluids

    @property
    def without_critical_point(self) -> bool:
        """True if it asks for nothing of a critical or pseudo-critical point."""
        asked = {*self.arguments, *self.ranges}
        return self.role == "boiling" or not {"T_pc", "p_r"} & asked

    @property
    def made_for(self) -> str:
        """What it was fitted to, in words; empty if to any fluid."""
        return " and ".join(STANDS_FOR.get(fluid, fluid) for fluid in self.fluids)

    def in_range(self, **inputs: ArrayLike) -> NDArray[np.bool_]:
        """Return where every ranged input lies inside its range.

        Parameters
        ----------
        **inputs : array_like
            Values of the ranged arguments and conditions, broadcastable [SI].

        Returns
        -------
        ndarray of bool
            True inside.
        """
        inside: NDArray[np.bool_] = np.asarray(True)
        for name, (low, high) in self.ranges.items():
            if name in inputs:
                value = np.asarray(inputs[name], dtype=np.float64)
                inside = inside & (value >= low) & (value <= high)
        return inside


CORRELATIONS: dict[str, Correlation] = {}


def correlation(
    role: str,
    *,
    source: str,
    traits: dict[str, str] | None = None,
    fluids: tuple[str, ...] = (),
    **ranges: tuple[float, float],
) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Register a scalar function as the correlation of its name, and compile it.

    Parameters
    ----------
    role : str
        One of ``ROLES``.
    source : str
        Key in data/sources.toml.
    traits : dict, optional
        What the march must know of it, see ``Correlation``.
    fluids : tuple of str, optional
        Coolants it was made for; any if empty.
    **ranges : tuple of float
        Range of validity of arguments and of ``CONDITIONS`` [SI].

    Returns
    -------
    callable
        Decorator that returns the compiled function.

    Raises
    ------
    ValueError
        If the role is unknown, the name taken, or a range is of neither an argument nor one of
        ``CONDITIONS``.
    """

    def register(function: Callable[..., Any]) -> Callable[..., Any]:
        name = function.__name__
        arguments = tuple(inspect.signature(function).parameters)
        if role not in ROLES:
            message = f"correlation {name}: unknown role {role!r}; known: {', '.join(ROLES)}"
            raise ValueError(message)
        if name in CORRELATIONS:
            message = f"correlation {name} is registered twice"
            raise ValueError(message)
        stray = [key for key in ranges if key not in arguments and key not in CONDITIONS]
        if stray:
            message = f"correlation {name}: ranges {stray} are of neither arguments nor conditions"
            raise ValueError(message)
        text = (function.__doc__ or "").strip().splitlines()[0]
        compiled = jit(function)
        CORRELATIONS[name] = Correlation(
            name, role, source, text, compiled, arguments, dict(ranges), dict(traits or {}), fluids
        )
        return compiled

    return register


def of_role(role: str) -> tuple[Correlation, ...]:
    """Return the correlations of a role in the order of their registration."""
    return tuple(c for c in CORRELATIONS.values() if c.role == role)


def numbered(*names: str) -> dict[str, int]:
    """Return the number of each correlation in its role's switch."""
    return {name: number for number, name in enumerate(names)}


def with_argument(numbers: dict[str, int], argument: str) -> NDArray[np.bool_]:
    """Return by number which correlations of a switch ask for an argument (n,) [-]."""
    return np.array([argument in CORRELATIONS[name].arguments for name in numbers])


def with_trait(numbers: dict[str, int], trait: str, value: str) -> NDArray[np.bool_]:
    """Return by number which correlations of a switch have a trait (n,) [-]."""
    return np.array([CORRELATIONS[name].traits.get(trait) == value for name in numbers])

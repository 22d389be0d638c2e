"""The registry of correlations: one function, one source, its range as data."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Literal

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


@dataclass(frozen=True, slots=True)
class Correlation:
    """One registered correlation.

    ``ranges`` maps argument names to (low, high); ``traits`` holds what the march must know of
    it: for the gas side ``drive`` ("enthalpy" or "temperature") and ``reference`` ("none",
    "film" or "enthalpy"); for the coolant side ``wall`` (uses wall properties).
    """

    name: str
    role: str
    source: str
    text: str
    function: Callable[..., Any]
    arguments: tuple[str, ...]
    ranges: dict[str, tuple[float, float]]
    traits: dict[str, str] = field(default_factory=dict)

    def in_range(self, **inputs: ArrayLike) -> NDArray[np.bool_]:
        """Return where every ranged input lies inside its range.

        Parameters
        ----------
        **inputs : array_like
            Values of the ranged arguments, broadcastable [-].

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

Trait = Literal["drive", "reference", "wall"]


def correlation(
    role: str, *, source: str, traits: dict[str, str] | None = None, **ranges: tuple[float, float]
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
    **ranges : tuple of float
        Range of validity of arguments [units of the argument].

    Returns
    -------
    callable
        Decorator that returns the compiled function.

    Raises
    ------
    ValueError
        If the role is unknown, the name taken, or a ranged variable is not an argument.
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
        stray = [key for key in ranges if key not in arguments]
        if stray:
            message = f"correlation {name}: ranged variables {stray} are not arguments {arguments}"
            raise ValueError(message)
        text = (function.__doc__ or "").strip().splitlines()[0]
        compiled = jit(function)
        CORRELATIONS[name] = Correlation(
            name, role, source, text, compiled, arguments, dict(ranges), dict(traits or {})
        )
        return compiled

    return register


def of_role(role: str) -> tuple[Correlation, ...]:
    """Return the correlations of a role in the order of their registration."""
    return tuple(c for c in CORRELATIONS.values() if c.role == role)

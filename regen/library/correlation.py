"""``regen.correlation``."""

from __future__ import annotations

from regen.physics import _dispatch, burnout, enhance  # noqa: F401 - they register
from regen.physics.registry import CORRELATIONS, Correlation
from regen.units import suggestion


def correlation(name: str) -> Correlation:
    """Return a correlation by its name: a function of numbers or arrays in SI.

    Parameters
    ----------
    name : str
        As ``regen list correlations`` has it.

    Returns
    -------
    Correlation
        Callable, with its ``source``, ``ranges`` and ``in_range``.

    Raises
    ------
    ValueError
        If there is none of that name.

    Examples
    --------
    >>> correlation("colebrook")(Re=[1e4, 1e5], roughness=0.0).round(5).tolist()
    [0.03089, 0.01799]
    """
    if name not in CORRELATIONS:
        message = f"no correlation {name!r}; {suggestion(name, tuple(CORRELATIONS))}"
        raise ValueError(message)
    return CORRELATIONS[name]

"""The metals of a design's wall: liner, plated copper, jacket, each in its condition."""

from __future__ import annotations

from regen.design import Design
from regen.properties.alloys import ANY, AlloyCondition, find

PLATED_COPPER = "copper-electroformed"


def liner(design: Design) -> AlloyCondition:
    """Return the metal of the liner.

    Parameters
    ----------
    design : Design
        Names alloy and condition.

    Returns
    -------
    AlloyCondition
        View of its tables.
    """
    return find(design.liner.alloy, design.liner.condition)


def plated_copper(design: Design) -> AlloyCondition:
    """Return the metal of the closeout's copper layer.

    Parameters
    ----------
    design : Design
        Any.

    Returns
    -------
    AlloyCondition
        View of its tables; without strength, which no layer this thin is credited with.
    """
    return find(PLATED_COPPER, ANY)


def jacket(design: Design) -> AlloyCondition:
    """Return the metal of the jacket.

    Parameters
    ----------
    design : Design
        Names alloy and condition.

    Returns
    -------
    AlloyCondition
        View of its tables.
    """
    return find(design.closeout.jacket_alloy, design.closeout.jacket_condition)

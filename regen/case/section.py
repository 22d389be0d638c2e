"""What every section of a case file is, and its two kinds of key."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, Field


class Section(BaseModel):
    """A section of the file: unknown keys are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True)


def about(text: str) -> Any:
    """Return an optional key; what it is without being given stands in the design.

    Parameters
    ----------
    text : str
        What it means.

    Returns
    -------
    FieldInfo
        Without it the key is None.
    """
    return Field(default=None, description=text)


def needed(text: str) -> Any:
    """Return a key that must be given.

    Parameters
    ----------
    text : str
        What it means.

    Returns
    -------
    FieldInfo
        Without a default.
    """
    return Field(description=text)

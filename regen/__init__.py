"""Thermal design of regeneratively cooled thrust-chamber walls.

    import regen

    case = regen.load("chamber.toml")
    review = regen.review(case)
    review.summary["T_wall_hot_max_K"]
    thinner = regen.review(case.with_values({"liner.wall": "0.7 mm"}))

Every name is imported when it is first asked for. docs/library.md is a worked session.
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

PUBLIC = {
    "load": "library.commands",
    "review": "library.commands",
    "sweep": "library.commands",
    "size": "library.commands",
    "uncertainty": "library.commands",
    "envelope": "library.commands",
    "closeout": "library.commands",
    "shop": "library.commands",
    "as_built": "library.commands",
    "alternatives": "library.commands",
    "read": "library.reading",
    "correlation": "library.commands",
    "Case": "case.read",
    "CaseError": "errors",
    "GeometryError": "errors",
    "RangeError": "errors",
    "MissingProperty": "errors",
    "MarchError": "solver.solve",
    "OutputError": "output.folder",
}
"""Module of each public name."""

__all__ = ["__version__", *PUBLIC]

if TYPE_CHECKING:
    from regen.case.read import Case as Case
    from regen.errors import CaseError as CaseError
    from regen.errors import GeometryError as GeometryError
    from regen.errors import MissingProperty as MissingProperty
    from regen.errors import RangeError as RangeError
    from regen.library.commands import alternatives as alternatives
    from regen.library.commands import as_built as as_built
    from regen.library.commands import closeout as closeout
    from regen.library.commands import correlation as correlation
    from regen.library.commands import envelope as envelope
    from regen.library.commands import load as load
    from regen.library.commands import review as review
    from regen.library.commands import shop as shop
    from regen.library.commands import size as size
    from regen.library.commands import sweep as sweep
    from regen.library.commands import uncertainty as uncertainty
    from regen.library.reading import read as read
    from regen.output.folder import OutputError as OutputError
    from regen.solver.solve import MarchError as MarchError


class _Package(ModuleType):
    """The package: ``regen.shop`` stays the function although a room has its name."""

    def __setattr__(self, name: str, value: object) -> None:
        if not (name in PUBLIC and isinstance(value, ModuleType)):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Package


def __getattr__(name: str) -> Any:
    """Import a public name when it is first asked for."""
    if name not in PUBLIC:
        message = f"module 'regen' has no attribute {name!r}"
        raise AttributeError(message)
    return getattr(import_module(f"regen.{PUBLIC[name]}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)

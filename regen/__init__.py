"""Thermal design of regeneratively cooled thrust-chamber walls.

    import regen

    case = regen.load("chamber.toml")
    review = regen.review(case)
    review.summary["T_wall_hot_max_K"]
    thinner = regen.review(case.with_values({"liner.wall": "0.7 mm"}))

The public names are those of ``__init__.pyi``, each imported when it is first asked for.
docs/library.md is a worked session.
"""

import sys
from types import ModuleType

from lazy_loader import attach_stub

__version__ = "0.1.0"
__getattr__, __dir__, __all__ = attach_stub(__name__, __file__)


class _Package(ModuleType):
    """The package: ``regen.shop`` stays the function although a room has its name."""

    def __setattr__(self, name: str, value: object) -> None:
        if not (name in __all__ and isinstance(value, ModuleType)):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Package

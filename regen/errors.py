"""The exceptions of the library: what a caller may catch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with a case: where, what was given, what is wrong, what to do."""

    key: str
    what: str
    given: str | None = None
    accepted: str = ""
    do: str = ""

    def __str__(self) -> str:
        """Return the problem as one paragraph."""
        head = self.key if self.given is None else f"{self.key} = {self.given}"
        asks = self.do.endswith("?")  # a suggestion goes with what is wrong
        parts = [f"{head}: {self.what}; {self.do}" if asks else f"{head}: {self.what}."]
        if self.accepted:
            parts.append(f"Accepted: {self.accepted}.")
        if self.do and not asks:
            parts.append(f"Do: {self.do}.")
        return " ".join(parts)


class CaseError(ValueError):
    """A case that cannot be used, with everything wrong with it.

    Parameters
    ----------
    source : str
        Name of the file.
    problems : sequence of Problem
        All of them.
    """

    def __init__(self, source: str, problems: Sequence[Problem]) -> None:
        self.source = source
        self.problems = tuple(problems)
        count = len(self.problems)
        head = f"{source}: {count} problem{'s' if count > 1 else ''}"
        super().__init__("\n\n".join([head, *map(str, self.problems)]))

    def __reduce__(self) -> tuple[type[CaseError], tuple[str, tuple[Problem, ...]]]:
        """Let a worker process hand the error over."""
        return CaseError, (self.source, self.problems)


class GeometryError(ValueError):
    """A geometry that cannot exist or be cut.

    Parameters
    ----------
    *problems : str
        One sentence a problem: what was given, where, what is accepted, what to do.
    """

    def __init__(self, *problems: str) -> None:
        self.problems = problems
        super().__init__("\n".join(problems))


class RangeError(ValueError):
    """A value was asked for where the table has none."""


class MissingProperty(RangeError):  # noqa: N818 - reads as what happened
    """The alloy has no table of this property in this condition."""

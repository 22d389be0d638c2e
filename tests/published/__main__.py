"""Write docs/validation.md and its figures anew: ``python -m tests.published``."""

from __future__ import annotations

from tests.published.page import write

if __name__ == "__main__":
    write()

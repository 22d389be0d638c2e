"""Write docs/correlations.md anew: ``python -m tests.docs``."""

from __future__ import annotations

from tests.docs import correlations_page

if __name__ == "__main__":
    correlations_page.PAGE.write_text(correlations_page.text(), encoding="utf-8")

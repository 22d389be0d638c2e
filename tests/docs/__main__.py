"""Write docs/correlations.md and docs/alloys.md anew: ``python -m tests.docs``."""

from __future__ import annotations

from tests.docs import alloys_page, correlations_page

if __name__ == "__main__":
    correlations_page.PAGE.write_text(correlations_page.text(), encoding="utf-8")
    alloys_page.PAGE.write_text(alloys_page.text(), encoding="utf-8")

"""Write docs/correlations.md, docs/alloys.md and docs/api.md anew: ``python -m tests.docs``."""

from __future__ import annotations

from tests.docs import alloys_page, api_page, correlations_page

if __name__ == "__main__":
    correlations_page.PAGE.write_text(correlations_page.text(), encoding="utf-8")
    alloys_page.PAGE.write_text(alloys_page.text(), encoding="utf-8")
    api_page.PAGE.write_text(api_page.text(), encoding="utf-8")

"""Write docs/trends.md: ``python -m tests.property.trends``. Takes some minutes."""

from __future__ import annotations

import sys

from tests.property.trends import box, page

if __name__ == "__main__":
    for found in page.look(box.WANTED):
        if (done := found.designs_looked) % 20 == 0:
            sys.stderr.write(f"{done} of {box.WANTED} designs\n")
    page.PAGE.write_text(page.text(found), encoding="utf-8")

"""Texts of cases with other values, unchecked: their files may stand elsewhere."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import tomlkit


def edited(case: Path | str, values: Mapping[str, Any]) -> str:
    """Return the text of a case with values by "section.key" as a file has them."""
    document: Any = tomlkit.parse(case if isinstance(case, str) else case.read_text("utf-8"))
    for path, value in values.items():
        section, key = path.split(".")
        table = document.setdefault(section, tomlkit.table())
        if isinstance(value, dict):
            table[key] = tomlkit.inline_table()
            table[key].update(value)
        else:
            table[key] = value
    return tomlkit.dumps(document)

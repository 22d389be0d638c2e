"""An alloy that is written as a user would write it reads back to the same numbers."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from regen.case.kinds import Reading
from regen.case.materials import MaterialFiles
from regen.metals.alloys import PROPERTIES, find
from regen.metals.selection import own_alloys
from regen.sources import GIVEN, MARKS

WRITTEN = 1e-12
"""A number is written with all its digits and multiplied by the factor of its unit once."""

NAMES = st.from_regex(r"[A-Za-z][A-Za-z0-9 ._+-]{0,10}[A-Za-z0-9]", fullmatch=True)
TEXTS = st.text(st.characters(categories=("L", "N"), include_characters=" ,.;()"), min_size=1)
MARK = st.sampled_from([mark for mark in MARKS if mark != "memory-low"])


@st.composite
def tables(draw):
    """Return the rows of each property in its unit: temperatures, values, source and mark."""
    # tensile strength stays out: it may not lie below the yield
    names = draw(st.sets(st.sampled_from(sorted(set(PROPERTIES) - {"uts"}))))
    found = {}
    for name in sorted(names | {"thermal_conductivity"}):
        T = sorted(draw(st.sets(st.floats(1.0, 3000.0), min_size=1, max_size=4)))
        factor = next(iter(PROPERTIES[name].factors.values()))
        low, high = (bound / factor for bound in PROPERTIES[name][2:])
        inside = st.floats(low + 1e-6 * (high - low), high - 1e-6 * (high - low))
        values = draw(st.lists(inside, min_size=len(T), max_size=len(T)))
        found[name] = (T, values, draw(TEXTS).strip() or "s", draw(MARK))
    return found


def stanza(name: str, condition: str) -> str:
    return (
        f'["{name}"]\nname = "n"\ncomposition = "c"\nform = "f"\n'
        'density = { value = 8900, unit = "kg/m3", source = "s", mark = "seen" }\n'
        'expansion_reference = { value = 293.15, unit = "K", source = "s", mark = "seen" }\n'
        f'[ "{name}".conditions ]\n"{condition}" = "as written"\n'
    )


def rows(condition: str, written: dict) -> str:
    lines = ["condition,property,T_K,value,unit,source,mark"]
    for name, (T, values, source, mark) in written.items():
        unit = next(iter(PROPERTIES[name].factors))
        lines += [
            f'"{condition}",{name},{t!r},{value!r},{unit},"{source}",{mark}'
            for t, value in zip(T, values, strict=True)
        ]
    return "\n".join(lines) + "\n"


@settings(max_examples=30, deadline=None)
@given(NAMES, NAMES.filter(lambda name: name != "any"), tables())
def test_a_written_alloy_reads_back(name, condition, written):
    name = f"own {name}"
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "own.toml").write_text(stanza(name, condition), encoding="utf-8")
        Path(folder, f"{name}.csv").write_text(rows(condition, written), encoding="utf-8")
        files = MaterialFiles().check(["own.toml"], Reading(Path(folder)))
    metal = find(name, condition, own_alloys(files))
    assert {property_ for _, property_ in metal.alloy.tables} == set(written)
    for property_, (T, values, source, mark) in written.items():
        table = metal.table(property_)
        factor = next(iter(PROPERTIES[property_].factors.values()))
        assert table.T.tolist() == T
        assert table.value == pytest.approx(np.multiply(values, factor), rel=WRITTEN)
        assert set(table.sources) == {GIVEN + source}
        assert set(table.marks) == {mark}
        assert metal.value(property_, T).value == pytest.approx(table.value, rel=WRITTEN)

"""Our own past numbers of the example cases: they prove nothing, they only say what changed.

After a change of physics, run ``python -m tests.frozen`` to write them anew, and say why under
"Changed numbers" in docs/changelog.md.
"""

from __future__ import annotations

import pytest

from tests.frozen.__main__ import NUMBERS, STORE, solved

FROZEN_TOLERANCE = 2e-4  # other machines' libraries: rounding, not physics


@pytest.mark.parametrize("name", sorted(STORE))
def test_numbers_are_those_of_before(name):
    now = solved(name)
    assert set(STORE[name]) == {"verdict", *NUMBERS}
    assert now["verdict"] == STORE[name]["verdict"]
    for key in NUMBERS:
        assert now[key] == pytest.approx(STORE[name][key], rel=FROZEN_TOLERANCE), key


def test_every_case_is_frozen():
    from tests.frozen.__main__ import CASES

    assert sorted(STORE) == sorted(path.stem for path in CASES.glob("*.toml"))

"""Whatever a case may say within its bounds: a result, or words; never another kind of error.

Values are drawn from the case model itself, so a new key is drawn too.
"""

from __future__ import annotations

import json
from typing import get_args

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from regen.case.along import Along, CountAlong, Strengths
from regen.case.coolant import CoolantName
from regen.case.keys import SECTIONS
from regen.case.kinds import Choice, CoolantFlow, Cutters, Flag, FreeSizes, Heatings
from regen.case.read import load_case
from regen.checks.review import review
from regen.design import CoolantFluid
from regen.errors import CaseError, GeometryError, RangeError
from regen.output.review import result_object
from regen.physics.registry import CORRELATIONS
from regen.solver.solve import MarchError
from regen.units import KINDS, Number, Quantity, parse
from tests.helpers.places import CASES

FILES = sorted(CASES.glob("*.toml"))

NAMES = {  # texts that stand for something that must exist
    "gas_side": [n for n, c in CORRELATIONS.items() if c.role == "gas_side"],
    "coolant_side": [n for n, c in CORRELATIONS.items() if c.role == "coolant_side"],
    "friction": [n for n, c in CORRELATIONS.items() if c.role == "friction"],
    "boiling": [n for n, c in CORRELATIONS.items() if c.role == "boiling"],
    "alloy": ["Cu-OFHC", "Cu-Cr-Zr", "N07718", "6061-T6"],
    "condition": ["annealed", "hard-drawn", "solution-annealed-aged"],
    "jacket_alloy": ["nickel-electroformed", "N07718", "316L"],
    "jacket_condition": ["sulfamate", "watts", "plate-aged"],
}


def between(low: float, high: float) -> st.SearchStrategy[float]:
    """Evenly over the orders of magnitude; at most three of them below the upper end of zero."""
    if low < 0:
        return st.floats(low, high)
    low = low or 1e-3 * high
    return st.floats(0.0, 1.0).map(lambda u: low * (high / low) ** u)


def texts(kind: object, name: str) -> st.SearchStrategy[str]:
    """Right sides of an override."""
    if isinstance(kind, Along | CountAlong):
        kind = kind.bounds
    if isinstance(kind, Quantity):
        low, high = (parse(end, kind.kind).value for end in (kind.low, kind.high))
        return between(low, high).map(lambda v: f'"{v:.6g} {KINDS[kind.kind].si}"')
    if isinstance(kind, Number):
        plain = between(kind.low, kind.high)
        return plain.map(lambda v: f"{v:.0f}" if kind.whole else f"{v:.6g}")
    if isinstance(kind, Choice):
        return st.sampled_from(kind.names).map(lambda n: f'"{n}"')
    if isinstance(kind, Flag):
        return st.sampled_from(["true", "false"])
    if isinstance(kind, CoolantName):
        return st.sampled_from([*get_args(CoolantFluid), "own oil"]).map(lambda n: f'"{n}"')
    if isinstance(kind, CoolantFlow):
        flow = between(1e-2, 10).map(lambda v: f'"{v:.6g} kg/s"')
        return st.one_of(st.just('"fuel"'), st.just('"0.5 fuel"'), flow)
    if isinstance(kind, FreeSizes):
        return st.sampled_from(FreeSizes.names).map(lambda n: f'["{n}"]')
    if isinstance(kind, Heatings):
        return st.sampled_from(['["braze at 935 degC"]', '["bake at 200 degC for 8 h"]'])
    if isinstance(kind, Strengths):
        return between(1e6, 1e9).map(lambda v: f'[["20 degC", "{v:.6g} Pa"], ["700 K", "5 MPa"]]')
    if isinstance(kind, Cutters):
        kinds = st.sampled_from(["saw", "end mill"])
        width = between(1e-4, 5e-2)
        return st.builds(lambda k, w: f'[{{kind = "{k}", width = "{w:.6g} m"}}]', kinds, width)
    return st.sampled_from(NAMES[name]).map(lambda n: f'"{n}"')


KEYS = {
    f"{section}.{name}": texts(key.kind, name)
    for section, keys in SECTIONS.items()
    for name, key in keys.items()
    if name not in ("profile", "stations", "files", "table", "saturation")
}

overrides = st.lists(st.sampled_from(sorted(KEYS)), min_size=1, max_size=3, unique=True).flatmap(
    lambda keys: st.tuples(*(KEYS[key].map(f"{key}={{}}".format) for key in keys))
)


@pytest.mark.parametrize("path", FILES, ids=[path.stem for path in FILES])
@settings(
    max_examples=40,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.too_slow],
)
@given(sets=overrides)
def test_a_result_or_words(path, sets):
    try:
        case = load_case(path, [*sets, "models.stations=21"])
        result = review(case.design)
    except (CaseError, GeometryError, RangeError, MarchError) as error:
        said = str(error)
    else:
        said = json.dumps(result_object(result), allow_nan=False)
        assert all(abs(value) < 1e30 for value in result.summary.values())
    assert len(said) > 40

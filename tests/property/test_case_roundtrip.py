"""Units there and back, one case in other units, and no input that gives a traceback."""

import dataclasses
import tempfile
import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from regen.case.keys import SECTIONS
from regen.case.read import load_case, starter_text
from regen.errors import CaseError
from regen.units import Refusal, parse, show
from tests.helpers.edit import edited

WRITTEN = 1e-9  # a value is written with 10 digits
CONVERTED = 1e-12  # a few roundings of the conversion

UNITS = {
    "length": ("m", "mm", "cm", "um", "in", "mil", "ft"),
    "pressure": ("Pa", "hPa", "kPa", "MPa", "bar", "mbar", "psi", "ksi", "atm"),
    "temperature": ("K", "degR"),
    "mass flow": ("kg/s", "g/s", "lb/s", "kg/min", "lb/h"),
    "angle": ("deg", "rad"),
    "force": ("N", "kN", "lbf"),
    "conductivity": ("W/(m K)", "W/(cm K)", "kW/(m K)", "W/m/K"),
    "thermal resistance": ("m2 K/W", "mm2 K/W", "m^2*K/W"),
}
KIND_AND_UNIT = [(kind, unit) for kind, units in UNITS.items() for unit in units]


@given(st.sampled_from(KIND_AND_UNIT), st.floats(1e-9, 1e9))
def test_shown_value_reads_back(kind_and_unit, value):
    kind, unit = kind_and_unit
    assert parse(show(value, kind, unit), kind).value == pytest.approx(value, rel=WRITTEN)


@given(st.sampled_from(("degC", "degF")), st.floats(1.0, 5000.0))
def test_shown_temperature_reads_back(unit, value):
    # the offset takes digits: 10 digits of 0.001 degC are fewer of 273.151 K, so compare in K
    assert parse(show(value, "temperature", unit), "temperature").value == pytest.approx(
        value, rel=0, abs=1e-6
    )


@given(st.floats(-200.0, 5000.0))
def test_fahrenheit_against_celsius(celsius):
    one = parse(f"{celsius!r} degC", "temperature").value
    other = parse(f"{celsius * 1.8 + 32!r} degF", "temperature").value
    assert one == pytest.approx(other, rel=CONVERTED)


@given(st.floats(0.0, 1e4))
def test_gauge_is_the_standard_atmosphere_above_absolute(value):
    gauge = parse(f"{value!r} psi gauge", "pressure").value
    assert gauge - parse(f"{value!r} psi", "pressure").value == pytest.approx(101325.0, rel=1e-9)


@given(st.text(max_size=40), st.sampled_from(sorted(UNITS)))
def test_any_text_is_a_value_or_refused(text, kind):
    try:
        found = parse(text, kind)
    except Refusal as error:
        found = error
    if isinstance(found, Refusal):
        assert found.what
        assert found.accepted
    else:
        assert abs(found.value) < float("inf")


IN_OTHER_UNITS = {
    "chamber.pressure": ("pressure", 30e5),
    "contour.throat_diameter": ("length", 0.038),
    "contour.characteristic_length": ("length", 0.75),
    "contour.convergent_half_angle": ("angle", 0.5),
    "liner.wall": ("length", 0.8e-3),
    "channels.depth": ("length", 1.7e-3),
    "coolant.mass_flow": ("mass flow", 0.48),
    "coolant.inlet_temperature": ("temperature", 120.0),
    "coolant.inlet_pressure": ("pressure", 90e5),
    "closeout.nickel": ("length", 3e-3),
}


def load(text, folder, overrides=()):
    path = Path(folder) / "case.toml"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    return load_case(path, overrides)


def outcome(text, folder, overrides=()):
    """Return the case, or the error that refuses it; any other exception fails the test."""
    try:
        return load(text, folder, overrides)
    except CaseError as error:
        return error


def numbers(value):
    """Return all numbers of nested dataclasses and tuples, in order."""
    if dataclasses.is_dataclass(value):
        return [n for f in dataclasses.fields(value) for n in numbers(getattr(value, f.name))]
    if isinstance(value, tuple):
        return [n for entry in value for n in numbers(entry)]
    return [float(value)] if isinstance(value, int | float) else []


IN_SI = edited(
    starter_text(),
    {
        key: f"{value!r} {UNITS[kind][0] if kind != 'angle' else 'rad'}"
        for key, (kind, value) in IN_OTHER_UNITS.items()
    },
)


@settings(deadline=None, max_examples=25)
@given(st.fixed_dictionaries({k: st.sampled_from(UNITS[v[0]]) for k, v in IN_OTHER_UNITS.items()}))
def test_a_case_in_other_units_is_the_same_design(units):
    with tempfile.TemporaryDirectory() as folder:
        one = load(IN_SI, folder).design
        changes = {
            key: show(value, kind, units[key]) for key, (kind, value) in IN_OTHER_UNITS.items()
        }
        other = load(edited(IN_SI, changes), folder).design
    assert numbers(other) == pytest.approx(numbers(one), rel=WRITTEN)


@settings(deadline=None, max_examples=25)
@given(st.integers(4, 2000), st.floats(0.2, 5.0), st.floats(0.05, 60.0))
def test_edits_read_back(count, depth, ratio):
    changes = {
        "channels.count": count,
        "channels.depth": f"{depth!r} mm",
        "propellants.mixture_ratio": ratio,
    }
    text = edited(starter_text(), changes)
    with tempfile.TemporaryDirectory() as folder:
        design = load(text, folder).design
        set_on_the_line = [f"{key}={value}" for key, value in changes.items()]
        assert load(starter_text(), folder, set_on_the_line).design == design
    assert design.channels.count == count
    assert design.propellants.mixture_ratio == ratio
    assert design.channels.depth.value[0] == pytest.approx(depth * 1e-3, rel=CONVERTED)


VALUES = st.recursive(
    st.one_of(
        st.text(max_size=12),
        st.integers(),
        st.floats(),
        st.booleans(),
        st.dates(),
        st.sampled_from(["5 mm", "-5 mm", "5 K", "fuel", "0.3 fuel", "1e9 bar", "20 degC"]),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(st.sampled_from(["file", "x", "y"]), inner, max_size=2),
    ),
    max_leaves=6,
)
PATHS = sorted(f"{name}.{key}" for name, keys in SECTIONS.items() for key in keys)


@settings(deadline=None, max_examples=100, suppress_health_check=[HealthCheck.too_slow])
@given(st.dictionaries(st.sampled_from(PATHS), VALUES, min_size=1, max_size=4))
def test_any_value_is_taken_or_refused(changes):
    with tempfile.TemporaryDirectory() as folder:
        found = outcome(starter_text(), folder, changes)
    if isinstance(found, CaseError):
        assert found.problems
        assert all(problem.what for problem in found.problems)
    else:
        assert all(abs(number) < float("inf") for number in numbers(found.design))


@settings(deadline=None, max_examples=100)
@given(
    st.one_of(
        st.binary(max_size=60), st.text(max_size=60).map(lambda t: t.encode("utf-8", "replace"))
    )
)
def test_any_bytes_after_the_version_are_refused(content):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "case.toml"
        path.write_bytes(b"case = 1\n" + content)
        with pytest.raises(CaseError):
            load_case(path)


@settings(deadline=None, max_examples=100)
@given(st.integers(0, len(starter_text())))
def test_a_case_cut_off_is_read_or_refused(length):
    text = starter_text()[:length]
    with tempfile.TemporaryDirectory() as folder:
        found = outcome(text, folder)
    if isinstance(found, CaseError):
        assert found.problems
    else:
        assert set(tomllib.loads(text)) >= {"liner", "channels", "coolant"}
        assert found.text == text


@settings(deadline=None, max_examples=40)
@given(st.text(max_size=60))
def test_any_override_is_taken_or_refused(text):
    with tempfile.TemporaryDirectory() as folder:
        for given_text in (text, f"channels.count={text}", f"liner.wall={text}"):
            found = outcome(starter_text(), folder, [given_text])
            assert found.problems if isinstance(found, CaseError) else found.design


TABLE = "# slots\nx [mm], depth [mm]\n-150, 1.6\n-20, 1.75   # cone\n0, 2.0\n"


@settings(deadline=None, max_examples=100)
@given(st.binary(max_size=20), st.integers(0, len(TABLE)), st.integers(0, 5))
def test_a_damaged_table_is_read_or_refused(noise, at, lost):
    damaged = TABLE[:at].encode() + noise + TABLE[at + lost :].encode()
    text = edited(starter_text(), {"channels.depth": {"file": "depth.csv"}})
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "depth.csv").write_bytes(damaged)
        found = outcome(text, folder)
    if isinstance(found, CaseError):
        assert all(problem.key == "channels.depth" for problem in found.problems)
    else:
        depth = found.design.channels.depth
        assert all(one < two for one, two in zip(depth.x, depth.x[1:], strict=False))
        assert all(1e-4 <= value <= 0.05 for value in depth.value)

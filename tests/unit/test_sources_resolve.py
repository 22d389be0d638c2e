"""Every source key that code or data names has an entry, with a mark that says how it was seen."""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from regen import sources
from regen.case.read import load_case
from regen.checks import references
from regen.checks.limits import LIMITS
from regen.gas.feeds import FILMS, SPECIES
from regen.physics import boiling, burnout, coolside, friction, gasside  # noqa: F401 - they register
from regen.physics.registry import CORRELATIONS
from regen.solver.solve import solve
from regen.sources import read_data

PACKAGE = Path(sources.__file__).parent
DATA = PACKAGE / "data"
CASE = PACKAGE.parent / "cases" / "a-methane.toml"


def stanzas(node: object) -> Iterator[dict]:
    """Every table that carries a source, however deep."""
    if isinstance(node, dict):
        if "source" in node:
            yield node
        for child in node.values():
            yield from stanzas(child)


def facts() -> list[tuple[str, str, str]]:
    """(where, key, mark) of every sourced number in the data files."""
    found = []
    for path in sorted(DATA.rglob("*.toml")):
        if path != sources.DATA / "sources.toml":
            for entry in stanzas(tomllib.loads(path.read_text(encoding="utf-8"))):
                mark = entry.get("mark") or sources.find(entry["source"]).mark
                found.append((path.name, entry["source"], mark))
    for path in sorted((DATA / "alloys").glob("*.csv")):
        with path.open(newline="", encoding="utf-8") as file:
            for number, row in enumerate(csv.DictReader(file), start=2):
                found.append((f"{path.name}:{number}", row["source_key"], row["mark"]))
    return found


def named_in_checks() -> set[str]:
    """Keys that limits and findings name."""
    tables = read_data("findings.toml").values()
    of_findings = {source for rows in tables for _, _, source, *_ in rows.values()}
    return of_findings | {one.source for one in LIMITS.values()}


@pytest.mark.parametrize("name", sorted(CORRELATIONS))
def test_the_source_of_a_correlation_resolves(name):
    source = sources.find(CORRELATIONS[name].source)
    assert source.title
    assert source.where


def test_the_sources_of_data_resolve():
    rows = facts()
    assert len(rows) > 200  # the alloys alone have more
    for where, key, mark in rows:
        assert key in sources.sources(), f"{where}: no source {key}"
        assert mark in sources.MARKS, f"{where}: no mark {mark}"


def test_the_sources_of_margins_resolve():
    keys = named_in_checks()
    assert {"clamped_strip", "hall_mudawar2000", "common_practice"} <= keys
    assert {"bree1967", "ring_equilibrium", "layer_mass"} <= keys
    for key in keys:
        assert sources.find(key).title


def test_the_sources_that_every_report_names_resolve():
    named = references.FACTORS, references.INTEGRAL[1], *references.BY_DESIGN
    keys = {*references.ALWAYS, *named, *(s.source for s in SPECIES.values())}
    keys |= {s.source for s in FILMS.values()}
    keys |= {"film_entrainment", "film_slot", "film_liquid"}
    for key in keys:
        assert sources.find(key).title


def test_every_source_says_what_where_and_how_it_was_seen():
    for source in sources.sources().values():
        assert source.title, source.key
        assert source.where, source.key
        assert source.mark in sources.MARKS, source.key


def test_an_unknown_key_is_refused_with_the_nearest_one():
    with pytest.raises(sources.UnknownSource, match='did you mean "taylor1968"'):
        sources.find("taylor1986")


def test_no_correlation_claims_a_reading_that_did_not_happen():
    # no report behind a correlation has been opened: at best a transcription was
    for correlation in CORRELATIONS.values():
        assert sources.find(correlation.source).mark != "seen", correlation.name


@pytest.mark.parametrize(
    ("asked", "keys"),
    [
        ((), {"taylor_niino_curvature"}),
        (('models.curvature="off"',), set()),
        (("models.entrance=true",), {"taylor_niino_curvature", "perkins_worsoe_schmidt"}),
        (("models.rough_gain=true",), {"taylor_niino_curvature", "norris1970"}),
    ],
)
def test_what_acts_in_the_slots_is_cited(asked, keys):
    solution = solve(load_case(CASE, asked).design)
    of_slots = {"taylor_niino_curvature", "perkins_worsoe_schmidt", "norris1970"}
    assert set(references.used(solution, ())) & of_slots == keys

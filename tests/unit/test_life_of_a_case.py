"""Life of soft copper cooled by cold hydrogen: hot stations whose tables end in the chill."""

from __future__ import annotations

from functools import cache

import numpy as np

from regen.case.read import load_case
from regen.checks.life import assess as life
from regen.checks.review import review
from regen.checks.runs import Run, Solved
from regen.checks.stations import columns
from regen.metals import selection as metals
from regen.solver.prepare import prepare
from regen.solver.solve import solve_nominal
from tests.helpers.places import CASES

COPPER = (
    'liner.alloy="Cu-OFHC"',
    'liner.condition="annealed"',
    "life.ductility=0.6",
    # enough hydrogen, let in just behind the throat, that the throat's own is below 77 K
    'coolant.mass_flow="6 kg/s"',
    'channels.depth="8 mm"',
    "channels.cooled_to_area_ratio=1.5",
)
STRENGTH = '["293 K", "230 MPa"], ["500 K", "180 MPa"], ["700 K", "130 MPa"]'
CREEPS = 0.5 * 1356.0
"""Half the solidus of copper [K]."""


@cache
def told(strength, *more):
    """Return the run of case B in copper of some hot strength, and what is said of its life."""
    overrides = (*COPPER, f"liner.ultimate_strength=[{strength}]", *more)
    design = load_case(CASES / "b-hydrogen.toml", list(overrides)).design
    prepared = prepare(design)
    stations = columns(prepared, solve_nominal(prepared))
    run = Run(stations, {})
    return stations, life.findings(Solved(design, metals.liner(design), None, run))


def by_name(found):
    return {finding.name: finding for finding in found.findings}


def test_the_life_is_the_least_over_all_stations():
    stations, found = told(f'{STRENGTH}, ["1100 K", "50 MPa"]')
    # quenched behind the hottest wall below 77 K: no modulus of copper, no expansion of nickel
    assert stations["T_coolant_K"][np.argmax(stations["T_wall_hot_K"])] < 77.0
    conservative, optimistic = (found.columns[name] for name in life.COLUMNS)
    assert np.isfinite(conservative).all()
    first, second = (by_name(found)[f"life_{way}"] for way in ("conservative", "optimistic"))
    assert first.value == conservative.min()
    assert second.value == optimistic.min()
    assert stations["T_wall_hot_K"][stations["x_m"] == first.x_m] > CREEPS
    assert first.value <= 0.1 * second.value
    hot = stations["T_wall_hot_K"] > CREEPS
    assert np.all(conservative[hot] <= 0.1 * optimistic[hot])
    assert "modulus of Cu-OFHC below 77 K" in first.note


def test_the_life_is_not_known_where_a_hot_station_has_no_strength():
    stations, found = told(STRENGTH)
    hottest = stations["x_m"][np.argmax(stations["T_wall_hot_K"])]
    first, second = (by_name(found)[f"life_{way}"] for way in ("conservative", "optimistic"))
    assert (first.value, second.value) == (None, None)
    assert first.x_m == hottest
    assert "uts of Cu-OFHC" in first.note
    assert "700 K" in first.note
    # the reader is told beside the caution
    assert [note.code for note in life.notes(found)] == ["life", "life not assessed"]


def test_an_open_life_names_the_key_that_is_still_missing():
    """Each key that the row names is given, until it is closed."""
    sets = ['liner.alloy="Cu-OFHC"', 'liner.condition="annealed"', "life.firings=5"]

    def row():
        design = load_case(CASES / "d-water-calorimeter.toml", [*sets, "models.stations=21"]).design
        return next(margin for margin in review(design).margins if margin.name == "life")

    assert (row().verdict, row().closes) == ("open", "life.ductility")
    sets.append("life.ductility=0.6")
    assert (row().verdict, row().closes) == ("open", "liner.ultimate_strength")
    sets.append(f"liner.ultimate_strength=[{STRENGTH}]")
    assert (row().verdict, row().closes) == ("pass", "")

"""The design in the units of the shop, every key of it."""

from __future__ import annotations

import dataclasses
import math
from typing import get_type_hints

from regen import design as d
from regen.output.listing import design_sections
from regen.output.review import slots
from regen.quantities import design_units
from regen.units import Number

PLAIN = {"nickel_profile", "copper_profile", "count_changes", "fuel_fraction"}
"""Numbers without a dimension, and without bounds that say so."""


def test_every_float_of_the_design_has_a_unit_or_none_on_purpose():
    parts = [
        *(d.Propellants, d.Chamber, d.ContourShape, d.ContourProfile, d.Liner, d.Channels),
        *(d.Coolant, d.Closeout, d.Models, d.Limits, d.Shop, d.Film, d.Circuit),
        *(d.Manifolds, d.Life, d.Plating),
    ]
    named = {
        name: hint
        for part in parts
        for name, hint in get_type_hints(part, include_extras=True).items()
        if "float" in str(hint) or "Profile" in str(hint)
    }
    plain = {
        name
        for name, hint in named.items()
        if any(isinstance(extra, Number) for extra in getattr(hint, "__metadata__", ()))
    }
    units = set(design_units())
    assert named.keys() - units == (plain - units) | (PLAIN & named.keys())
    assert {"width", "roughness", "T_wall_hot", "firing_duration", "burnout_flux"} <= units
    assert not units & {"mach", "yield_factor", "share", "greatest_aspect"}


def rows_of(design):
    """Return the keys of each section with their values as text."""
    return {table.title: dict(table.rows) for table, _ in design_sections(design)}


def test_the_design_is_listed_in_millimetres_bar_and_degrees(drawn_design):
    absent = {table.title: keys for table, keys in design_sections(drawn_design)}
    found = rows_of(drawn_design)
    assert found["channels"]["width"] == "0.8 mm at x = -100 mm; 0.7 mm at x = 0 mm"
    assert found["liner"]["wall"] == "0.8 mm"
    assert found["chamber"]["pressure"] == "30 bar"
    assert found["contour"]["convergent_half_angle"] == "30 deg"
    assert found["coolant"]["returns_to_injector"] == "no"
    assert found["coolant"]["mass_flow"] == "0.48 kg/s"
    assert absent["coolant"] == ["fuel_fraction", "outlet_pressure"]


def test_a_circuit_is_listed_with_what_it_takes_from_the_channels(drawn_design):
    channels = dataclasses.replace(drawn_design.channels, count_changes=((-0.02, 40),))
    circuit = d.Circuit("barrel", channels, mass_flow=0.2)
    design = dataclasses.replace(drawn_design, circuits=(circuit,))
    rows = rows_of(design)["circuit barrel"]
    assert rows["mass_flow"] == "0.2 kg/s"
    assert rows["count"] == "80"
    assert rows["count_changes"] == "40 from x = -20 mm on"
    assert slots(design) == "40 to 80"
    assert slots(drawn_design) == "80"


def test_long_profiles_and_contours_are_abridged(drawn_design):
    many = d.Profile(tuple(i / 100 for i in range(9)), tuple(1e-3 + i * 1e-4 for i in range(9)))
    points = d.ContourProfile((-0.1, 0.0, 0.1), (0.04, 0.02, 0.03), "contour.csv")
    channels = dataclasses.replace(drawn_design.channels, depth=many)
    design = dataclasses.replace(drawn_design, channels=channels, contour=points)
    found = rows_of(design)
    expected = "9 points from x = 0 to 80 mm, between 1 mm and 1.8 mm"
    assert found["channels"]["depth"] == expected
    assert found["contour"]["r"] == "3 points, 20 mm to 40 mm"


def test_the_design_as_a_shop_reads_it(drawn_design):
    """One value of every unit, from SI."""
    design = dataclasses.replace(
        drawn_design,
        manifolds=d.Manifolds(inlet_bore=0.016, outlet_turn=math.pi / 2),
        plating=d.Plating(
            nickel_current_density=200.0,
            nickel_rate=20e-6 / 3600,
            turn_time=86400.0,
            extra_area=0.01,
            nickel_stress=40e6,
            turn_cut=0.2e-3,
        ),
        shop=d.Shop(cutters=(d.Cutter("saw", 0.8e-3, 5e-3, 63e-3),)),
        life=d.Life(fatigue_strength=400e6),
        models=d.Models(deposit_resistance=d.Profile.constant(2e-5)),
    )
    found = rows_of(design)
    for section, key, said in (
        ("chamber", "pressure", "30 bar"),
        ("contour", "throat_diameter", "40 mm"),
        ("contour", "convergent_half_angle", "30 deg"),
        ("liner", "wall", "0.8 mm"),
        ("channels", "width", "0.8 mm at x = -100 mm; 0.7 mm at x = 0 mm"),
        ("channels", "roughness", "5 um sand grain"),
        ("coolant", "inlet_pressure", "90 bar"),
        ("coolant", "inlet_temperature", "120 K"),
        ("coolant", "mass_flow", "0.48 kg/s"),
        ("manifolds", "inlet_bore", "16 mm"),
        ("manifolds", "outlet_turn", "90 deg"),
        ("closeout", "bond_strength", "70 MPa"),
        ("plating", "nickel_current_density", "2 A/dm2"),
        ("plating", "nickel_rate", "20 um/h"),
        ("plating", "turn_time", "24 h"),
        ("plating", "extra_area", "1 dm2"),
        ("plating", "nickel_stress", "40 MPa"),
        ("plating", "turn_cut", "0.2 mm"),
        ("shop", "width_tolerance", "0.03 mm"),
        ("shop", "cutters", "saw 0.8 mm, to 5 mm deep, disc of 63 mm"),
        ("life", "fatigue_strength", "400 MPa"),
        ("models", "deposit_resistance", "2e-05 m2 K/W"),
    ):
        assert found[section][key] == said, key

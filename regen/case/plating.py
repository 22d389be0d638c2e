"""The plating in a case file: baths, what the deposit does along x, what coupons gave."""

from __future__ import annotations

from typing import Annotated, get_args

from regen import design
from regen.case.fields import Choice, Number, Quantity, options
from regen.case.fields_along import AlongNumber
from regen.case.section import Section
from regen.case.section import about as _about

LAYER = Quantity("length", "0.01 mm", "50 mm")
STOCK = Quantity("length", "0 mm", "20 mm")
CURRENT_DENSITY = Quantity("current density", "0.01 A/dm2", "100 A/dm2")
EFFICIENCY = Number(0.3, 1.0)
GROWTH = Quantity("rate of growth", "0.1 um/h", "2000 um/h")
RATIO = AlongNumber(0.05, 10.0)
BATH = Quantity("temperature", "5 degC", "99 degC")
DEPOSIT_STRESS = Quantity("stress", "-500 MPa", "1000 MPa")
TOLERANCE = Quantity("length", "0 mm", "1 mm")


class Plating(Section):
    """How copper and nickel are plated; what is left out is the bath's usual value."""

    nickel_bath: Annotated[str, Choice(get_args(design.NickelBath))] = _about(
        "Bath of the nickel; without it what closeout.jacket_condition names."
    )
    skin: Annotated[str, Choice(options(design.Plating, "skin"))] = _about(
        "What makes the wax conductive."
    )
    nickel_current_density: Annotated[float, CURRENT_DENSITY] = _about(
        "Mean current density of the nickel; without it the usual one of the bath."
    )
    copper_current_density: Annotated[float, CURRENT_DENSITY] = _about("The same of the copper.")
    nickel_efficiency: Annotated[float, EFFICIENCY] = _about(
        "Cathode efficiency of the nickel: metal deposited over that of Faraday's law. It "
        "multiplies the thickness."
    )
    copper_efficiency: Annotated[float, EFFICIENCY] = _about("The same of the copper.")
    nickel_rate: Annotated[float, GROWTH] = _about(
        "Growth of the nickel's mean thickness as the shop measured it over the time in the bath; "
        "it overrides current density and efficiency in the hours."
    )
    copper_rate: Annotated[float, GROWTH] = _about("The same of the copper.")
    nickel_profile: Annotated[design.Profile, RATIO] = _about(
        "Local over mean thickness of the nickel along x, from a coupon map or with shields; only "
        "ratios of its values count. Without it both ends get 1.3 times the throat's."
    )
    copper_profile: Annotated[design.Profile, RATIO] = _about("The same of the copper.")
    nickel_stock: Annotated[float, STOCK] = _about(
        "Nickel above the finished thickness at the thinnest place, for the last turning; without "
        "it 1 mm, or 0.3 of the finished thickness where that is more."
    )
    copper_stock: Annotated[float, STOCK] = _about("The same of the copper; without it 0.1 mm.")
    nickel_deposit: Annotated[float, LAYER] = _about(
        "Mean thickness of nickel that is plated in all, if it is fixed; without it what the "
        "thinnest place needs."
    )
    copper_deposit: Annotated[float, LAYER] = _about("The same of the copper.")
    turn_each: Annotated[float, Quantity("length", "0.05 mm", "20 mm")] = _about(
        "Mean growth of nickel after which nodules are turned off; without it 1 mm."
    )
    turn_cut: Annotated[float, Quantity("length", "0 mm", "5 mm")] = _about(
        "What each turning between takes off at the thinnest place; without it 0.2 mm."
    )
    turn_tolerance: Annotated[float, TOLERANCE] = _about(
        "A turned layer may be this much thinner than drawn; without it 0.05 mm."
    )
    turn_time: Annotated[float, Quantity("time", "0 h", "1000 h")] = _about(
        "Time of one turning with taking down, activating and hanging up again; without it 24 h."
    )
    ends: Annotated[str, Choice(options(design.Plating, "ends"))] = _about(
        "Whether the faces at both ends of the part are plated too, or masked."
    )
    extra_area: Annotated[float, Quantity("area", "0 dm2", "1000 dm2")] = _about(
        "Further area in the same current: racks, shields, thieves, coupons."
    )
    nickel_bath_temperature: Annotated[float, BATH] = _about(
        "Temperature of the nickel bath; without it the usual one."
    )
    copper_bath_temperature: Annotated[float, BATH] = _about("The same of the copper bath.")
    wax_melts: Annotated[float, Quantity("temperature", "20 degC", "200 degC")] = _about(
        "Temperature at which the wax begins to melt."
    )
    nickel_stress: Annotated[float, DEPOSIT_STRESS] = _about(
        "Stress of the nickel as deposited, tension positive, from strip or spiral; without it "
        "40 MPa in sulfamate."
    )
    copper_stress: Annotated[float, DEPOSIT_STRESS] = _about("The same of the copper.")
    toughness: Annotated[float, Quantity("toughness", "1 J/m2", "20000 J/m2")] = _about(
        "Toughness of the bond between plating and liner, from the shop's coupon."
    )
    unbond: Annotated[float, Quantity("length", "0.1 mm", "500 mm")] = _about(
        "Widest unbonded patch that inspection may leave unseen."
    )
    barrier: Annotated[float, Quantity("length", "0.1 mm", "5 mm")] = _about(
        "Least copper between hydrogen and jacket, after turning, at the thinnest place."
    )

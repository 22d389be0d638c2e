"""Operations of the traveller, from blank to marked part, by how the jacket is made."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from regen.output.shop_table import MM
from regen.output.shop_words import tool_words
from regen.result import Array
from regen.shop.drawings.sheets import ShopSet
from regen.shop.plating.layers import Layer, Step
from regen.shop.plating.plan import Plan

OXYGEN = "oxygen"
ZERO_CELSIUS = 273.15
"""[K]."""


@dataclass(frozen=True, slots=True)
class Operation:
    """One operation: what is done, its numbers, and what must be so before work goes on."""

    title: str
    lines: tuple[str, ...]
    hold: str = ""


def operations(
    shop: ShopSet, plated: Plan | None, proof: Sequence[str]
) -> list[tuple[int, Operation]]:
    """Return the operations of a design in order, numbered in tens.

    Parameters
    ----------
    shop : ShopSet
        All that goes to the shop.
    plated : Plan or None
        Plating plan; None where the jacket is not plated.
    proof : sequence of str
        Proof pressures in words.

    Returns
    -------
    list of tuple
        Number and operation.
    """
    route = shop.design.closeout.route
    if route == "printed":
        found = [*_printed(shop), *_to_the_end(shop, proof, waxed=False)]
    else:
        found = [*_slotted(shop)]
        if plated is not None:
            found += [*_waxed(shop, plated), *_plated(shop, plated), *_dewaxed(shop)]
        else:
            found += _joined(shop, route)
        found += _to_the_end(shop, proof, waxed=route == "electroformed")
    return [(10 * n, operation) for n, operation in enumerate(found, start=1)]


def _slotted(shop: ShopSet) -> Iterator[Operation]:
    design, tolerance = shop.design, shop.design.shop
    liner = design.liner
    yield Operation(
        "Blank",
        (
            f"{liner.alloy}, {liner.condition}. Certificate, heat number and hardness with this "
            "traveller.",
            "Ultrasonic inspection of the bar or forging before any turning.",
        ),
        "Material and condition are those of the case, on paper and by hardness.",
    )
    yield Operation(
        "Turn",
        (
            "Outside to LINER_BLANK_OUTSIDE of lathe_profile.dxf; bore with stock left (last cut "
            "after the jacket is on). Both datum faces, run-out to the bore on record.",
            "Mark slot 1 on the injector face, outside the sealing surface.",
        ),
        "Outside measured at the rows of the cutting table; it is what depth is taken from.",
    )
    lines = [
        f"{sheet.stretch.circuit}: {sheet.stretch.count} slots, index "
        f"{sheet.stretch.index_angle:.6f} deg, x = {sheet.stretch.start * MM:.3f} to "
        f"{sheet.stretch.stop * MM:.3f}, width {_span(sheet.rows.width)}, depth "
        f"{_span(sheet.rows.depth)} (normal), wall left {_span(sheet.rows.wall)}."
        for sheet in shop.sheets
    ]
    lines += [tool_words(tool) for tool in shop.tools]
    if not shop.tools:
        lines.append("The case lists no cutters: that one leaves this floor is still to be shown.")
    lines.append(
        "Cut on a scrap ring of the same metal first: width, depth and burr. Then slot 1 alone."
    )
    yield Operation(
        "Slot, by the cutting table and the way of the cutter",
        tuple(lines),
        "Slot 1 measured at every gauge place before slot 2 is cut: width +/- "
        f"{tolerance.width_tolerance * MM:g}, depth +/- {tolerance.depth_tolerance * MM:g}, wall "
        f"+/- {tolerance.wall_tolerance * MM:g} mm, stock of the bore taken off.",
    )
    yield Operation(
        "Deburr",
        ("Under magnification, edges broken no more than 0.05 mm; no abrasive into the slots.",),
        "No burr on lands or in slots, no chip left.",
    )
    counts = ", ".join(str(sheet.stretch.count) for sheet in shop.sheets)
    yield Operation(
        "Count and measure every slot",
        (
            f"Count: {counts}. Every slot at every place of inspection.html, into "
            "measured_slots.csv.",
            "One slot off: before it is sleeved or scrapped, ask 'regen as-built' with the file.",
        ),
        "All slots within limits, or each deviation decided in writing.",
    )


def _waxed(shop: ShopSet, plated: Plan) -> Iterator[Operation]:
    volume = sum(sheet.volume for sheet in shop.sheets) * 1e6
    warmest = max(of.temperature for of in plated.values.metals) - ZERO_CELSIUS
    melts = f"at least 10 K above the warmest bath ({warmest:.0f} degC)"
    yield Operation(
        "Clean before wax",
        ("Degrease, rinse, water-break test, dry. Gloves from here on.",),
        "Water film unbroken over all lands.",
    )
    yield Operation(
        "Weigh, fill with wax, weigh",
        (
            f"Wax that melts {melts}. Slots hold {volume:.1f} cm3 in all. Fill proud of the lands, "
            "scrape flush; never smear wax on a land.",
            "Mass before and after on record: the wax must come out again by weight.",
        ),
        "Lands bright and bare over their whole length under magnification; no sunk wax.",
    )
    yield Operation(
        "Conductive skin",
        (
            f"{shop.design.plating.skin.capitalize()} on the wax alone, burnished, lands wiped "
            "clean. Resistance over each filled slot on record.",
        ),
        "Skin closed on every slot, none on the lands.",
    )
    yield Operation(
        "Adhesion coupon",
        (
            "Coupon of the same metal and condition, same cleaning and activation, in the same "
            "load, wired like the part, for tension or peel; a strip or spiral for the stress.",
        ),
        "Coupons hang in the same load as the part.",
    )


def _plated(shop: ShopSet, plated: Plan) -> Iterator[Operation]:
    yield Operation(
        "Activate and enter live",
        ("Anodic or acid activation of the lands, rinse, into the bath under current, no pause.",),
    )
    for layer in plated.layers:
        for step in layer.steps:
            last = step.number == len(layer.steps)
            name = f"{layer.metal.capitalize()}, cycle {step.number} of {len(layer.steps)}"
            fresh = step.number == 1
            yield Operation(name, tuple(_growth(step, fresh)))
            yield Operation(
                f"{name}: turn", (_turning(layer, step, last),), _after(shop, plated, layer, step)
            )


def _growth(step: Step, fresh: bool) -> Iterator[str]:
    if not fresh or step.layer == "nickel":
        yield "Clean, activate, enter live."
    yield (
        f"{step.growth * MM:.3f} mm on the mean, at the thinnest place from "
        f"{step.least_from * MM:.3f} to {step.least_plated * MM:.3f} mm, at the thickest to "
        f"{step.most_plated * MM:.3f} mm: {step.current_from:.1f} A, rising to "
        f"{step.current_to:.1f} A, {step.time / 3600.0:.1f} h with current."
    )


def _turning(layer: Layer, step: Step, last: bool) -> str:
    if not last:
        return (
            "Turn off nodules and edges, down to the thinnest place less the cut: "
            f"{step.least_to * MM:.3f} mm left there."
        )
    if layer.metal == "copper":
        return f"To COPPER_OUTSIDE of lathe_profile.dxf: {layer.wanted.finished * MM:g} mm."
    return (
        "From JACKET_AS_PLATED_OUTSIDE to JACKET_FINISHED_OUTSIDE of lathe_profile.dxf: "
        f"{layer.wanted.finished * MM:g} mm on the copper."
    )


def _after(shop: ShopSet, plated: Plan, layer: Layer, step: Step) -> str:
    last, closeout = step.number == len(layer.steps), shop.design.closeout
    off = plated.values.turn_tolerance
    least = (
        f"at least {(layer.left.min() - off) * MM:.3f} mm everywhere "
        f"({layer.left.min() * MM:.3f} mm less {off * MM:g} mm that turning may take)"
    )
    said = []
    if layer.metal == "copper" and last:
        said.append(
            f"Copper {least}, by eddy current or by diameters before and after, thinnest place "
            "first; no pinhole: it keeps the coolant from the jacket."
        )
    if layer.metal == "nickel" and step.number == 1:
        said.append(
            "Adhesion coupon of this load pulled: at least "
            f"{closeout.bond_strength / 1e6:g} MPa in tension, or in the copper; stress of the "
            "strip within the plating sheet. Not good: strip, do not plate on."
        )
    if layer.metal == "nickel" and last:
        said.append(f"Nickel {least}, by diameters; no nodule, pit or crack.")
    return " ".join(said)


def _dewaxed(shop: ShopSet) -> Iterator[Operation]:
    count = sum(sheet.stretch.count for sheet in shop.sheets)
    yield Operation(
        "Dewax",
        (
            "Hot, slots upright, until nothing runs; then solvent through every slot, warm, until "
            "it comes out clear; dry. Weigh before and after.",
        ),
        "Mass lost is the mass of wax filled in, within 0.1 g a slot or what the balance can "
        "tell; borescope through every slot: clear, no wax, no skin loose.",
    )
    yield Operation(
        "Flow and blow every slot",
        (
            f"All {count} slots one by one, same pressure, flow on record; then the whole part "
            "with water.",
        ),
        "No slot is more than 10 % from the mean of its circuit.",
    )


def _joined(shop: ShopSet, route: str) -> Iterator[Operation]:
    closeout = shop.design.closeout
    jacket = f"{closeout.jacket_alloy}, {closeout.jacket_condition}, {closeout.jacket * MM:g} mm"
    yield Operation(
        "Fit the jacket",
        (
            f"Jacket: {jacket} finished; bore to the turned lands, gap by the joining procedure. "
            "Lands and bore cleaned, joined the same day.",
            "Ends sealed so that nothing runs into the slots.",
        ),
        "Gap at every land, by feeler or by measured diameters.",
    )
    if route == "HIP-bonded":
        yield Operation(
            "Can, evacuate, leak-check, HIP",
            (
                "Weld the can, evacuate hot, pinch off. Slots: open to the gas, or filled, as the "
                "qualified procedure says; a closed empty slot collapses.",
                "Temperature, pressure and time by the qualified procedure; chart with the part.",
            ),
            "Can leak-tight before HIP; chart within the procedure.",
        )
    else:
        yield Operation(
            "Braze",
            (
                "Filler on the lands by weight, stop-off in the slots. Vacuum or dry hydrogen, "
                "cycle by the qualified procedure; thermocouple on the part.",
            ),
            "Chart within the procedure; fillet at every land that can be seen.",
        )
    yield Operation(
        "Heat treatment",
        (
            "The liner's strength is that after this cycle: the case must name the condition "
            "that the part now has. Witness pieces of the liner in the same load.",
        ),
        "Hardness and tension of the witness piece are those of the condition in the case "
        f"({shop.design.liner.condition}).",
    )
    yield Operation(
        "Inspect the joint",
        (
            "Ultrasonic, every land over its length; joint coupon of the same load pulled. "
            "Borescope and flow of every slot.",
        ),
        f"Coupon at least {closeout.bond_strength / 1e6:g} MPa; no slot blocked.",
    )
    yield Operation("Turn the outside", ("To JACKET_FINISHED_OUTSIDE of lathe_profile.dxf.",))


def _printed(shop: ShopSet) -> Iterator[Operation]:
    liner = shop.design.liner
    yield Operation(
        "Print",
        (
            f"{liner.alloy}, {liner.condition}; hot wall and channels in one, sizes by "
            "slot_section.dxf and inspection.html; stock on bore and sealing faces.",
            "Powder lot, machine, build plate and tensile bars of the same build with the part.",
        ),
        "Build log without stops; powder lot within limits.",
    )
    yield Operation(
        "Powder out",
        ("Vibrate and blow every channel both ways before any heat: hot powder sinters.",),
        "Every channel clear by borescope or X-ray; mass against that of the model.",
    )
    yield Operation(
        "Heat treatment",
        ("Stress relief, HIP where asked for, ageing: the condition that the case names.",),
        f"Tensile bars of the build are those of {liner.condition}.",
    )
    yield Operation(
        "Measure channels",
        (
            "X-ray tomography, or sections of a witness of the same build: width, depth, wall at "
            "the places of inspection.html. Flow of every channel.",
        ),
        "Every channel within limits, or each deviation decided in writing.",
    )


def _to_the_end(shop: ShopSet, proof: Sequence[str], *, waxed: bool) -> Iterator[Operation]:
    design = shop.design
    yield Operation(
        "Finish the bore",
        (
            "To HOT_GAS_CONTOUR of lathe_profile.dxf, from the datum that the slots were cut from. "
            "Light cuts: the wall is thin.",
        ),
        "Wall by ultrasonic gauge over slots at every gauge place, "
        f"+/- {design.shop.wall_tolerance * MM:g} mm.",
    )
    yield Operation(
        "Proof, by inspection.html", tuple(proof), "No leak, no permanent growth; pressure chart."
    )
    last = "solvent clean, rinse, dry warm, both ends capped"
    if design.coolant.fluid == OXYGEN:
        last = "for oxygen by the written procedure, ultraviolet inspection, dry, bagged"
    elif design.propellants.oxidizer == OXYGEN:
        last += "; injector end and what oxygen can reach: cleaned for oxygen"
    residue = "No residue of wax or solvent" if waxed else "No residue of oil or solvent"
    yield Operation("Clean and dry", (f"{last[0].upper()}{last[1:]}.",), f"{residue}; dew point.")
    yield Operation(
        "Mark",
        (
            "Serial number, case hash, proof pressure and date on the flange, by etching; nothing "
            "stamped over slots.",
        ),
        "Traveller, measured_slots.csv, charts and coupons complete.",
    )


def _span(values: Array) -> str:
    low, high = float(values.min()) * MM, float(values.max()) * MM
    same = f"{low:.3f}" == f"{high:.3f}"
    return f"{low:.3f} mm" if same else f"{low:.3f} to {high:.3f} mm"

"""What is said on the shop's pages: datum, cautions, what the cutters leave."""

from __future__ import annotations

from regen.design import Design
from regen.output.shop_table import MM
from regen.result import Result
from regen.shop.drawings.sheets import ShopSet, Tool
from regen.shop.plating.plan import Plan

FIRST = (
    "Local rules and licensed practice come first: where they differ from this sheet, they hold. "
    "Common practice is meant as a reminder, not as an instruction."
)

SAFETY = {
    "cutting": (
        "Small saws burst: guard the disc, use the maker's speed, coolant and collars; nobody in "
        "its plane.",
        "Chromium, beryllium or cadmium in an alloy make its dust and fume a health matter: read "
        "its data sheet, cut wet, never blow chips off with air.",
        "Take work and cutter to a stop before measuring; slot edges cut skin.",
    ),
    "baths": (
        "Nickel salts are sensitisers and their mist a carcinogen; acid copper baths burn skin and "
        "eyes: extraction, goggles, gloves, apron, eyewash and shower within reach.",
        "Never mix acids with cyanides, chlorine bleach or each other untested; always acid into "
        "water. Hydrogen comes off at the cathode: no flame, no sparks, air moving.",
        "Rectifiers: low voltage, hundreds of amperes. No hands in the bath under current.",
        "Rinse water, spent bath and filters are hazardous waste: collect, never to the drain.",
    ),
    "joining": (
        "Furnaces and HIP: argon and nitrogen suffocate without warning, hydrogen explodes in air; "
        "pressure vessel and furnace are run by those trained on them, interlocks untouched.",
    ),
    "powder": (
        "Metal powder burns and harms lungs: inert gas, grounding, respirator, no sweeping; argon "
        "suffocates without warning.",
    ),
    "solvents": (
        "Hot wax burns and ignites: water or oil bath with a thermostat, never a flame.",
        "Solvent vapour is toxic, and most of it burns: below its flash point, in extraction, away "
        "from heat; no trapped liquid in a part that is heated afterwards.",
    ),
    "proof": (
        "Proof with water, all air vented, behind a barrier, everybody out of the room while it is "
        "pressurised; gauge and relief valve in calibration. Gas stores enough energy to kill: "
        "never the first pressure a part sees.",
        "Raise in steps, hold, look by camera; approach only at zero pressure. Dry the part before "
        "it meets a cryogen: ice bursts slots.",
    ),
    "oxygen": (
        "Oxygen passages: clean for oxygen by a written procedure, inspected under ultraviolet "
        "light, no wax, oil or solvent left: residues ignite.",
    ),
}
"""Common practice."""

AXES = "x runs along the axis: 0 in the throat plane, positive to the nozzle. y is the radius."
ENDS = (
    "Ends, flanges and manifolds are not part of this drawing: curves stop where the slots do, and "
    "their ends are no faces to cut."
)
TURNED = (
    AXES,
    "Half-section for the lathe. The bore is drawn as finished; its last cut comes after the "
    "jacket is on: leave stock on it until then.",
    ENDS,
)
CUT = (
    AXES,
    "Half-section for the mill. Paths are those of the disc's centre, or of the middle of the "
    "mill's flat end.",
    "Nothing is to be turned to SLOT_FLOOR.",
    ENDS,
)


def datum(shop: ShopSet) -> tuple[str, ...]:
    """Return how the numbers of the tables are meant.

    Parameters
    ----------
    shop : ShopSet
        All that goes to the shop.

    Returns
    -------
    tuple of str
        Sentences.
    """
    face = -shop.contour.x_injector * MM
    return (
        "Lengths in mm, angles in degrees. x is measured along the axis, positive towards the "
        f"nozzle: from the throat plane, and from the injector face, which stands {face:.4f} "
        "before the throat. r is measured from the axis.",
        "The floor is the copper that must be left, at this x: radius r floor. This radius is what "
        "counts. The wall is that to the finished bore, normal to the hot-gas contour: while the "
        "bore has stock, the metal under the slot is thicker by it.",
        "Depth is given twice. Normal: square to the hot-gas contour, from the turned outside of "
        "the blank, as a depth gauge across the land reads it. Radial: straight towards the axis "
        "from the blank at this x, as a machine plunges. They differ where the chamber slopes; a "
        "dash: the drawn blank ends before this x, set r floor.",
        "Width is at the floor, sides parallel. Lands are arcs round the axis: at the floor, and "
        "at the blank's outside.",
        "Slot 1 stands at the mark on the injector face, at 0 degrees. Slots count clockwise, seen "
        "from the injector towards the nozzle. Set each angle from slot 1: never add up rounded "
        "steps.",
    )


SECTIONS = (
    "Planes normal to the axis, seen from the injector towards the nozzle, full size.",
    "Radii stand in the middle of a slot; floors are flat across the slot, sides parallel.",
    "On a slope the wall in this plane is not the wall normal to the contour: for sizes see the "
    "cutting table.",
)


def title_block(design: Design, case_hash: str, said: str) -> list[str]:
    """Return the first lines of a drawing.

    Parameters
    ----------
    design : Design
        What is drawn.
    case_hash : str
        Hash of its case file.
    said : str
        Whether it is released.

    Returns
    -------
    list of str
        Lines.
    """
    return [
        design.title,
        f"Units mm. Liner {design.liner.alloy}, {design.liner.condition}.",
        f"Case SHA-256 {case_hash[:16] or 'not given'}.",
        said,
    ]


def release(result: Result, plated: Plan | None) -> str:
    """Return what a page says of the design's verdict.

    Parameters
    ----------
    result : Result
        The design with the floor that its cutters leave.
    plated : Plan or None
        Plating plan; None where the jacket is not plated.

    Returns
    -------
    str
        Words; they begin with NOT FOR CUTTING where a limit is broken or unknown.
    """
    said = {
        "pass": "Every limit of the calculation is kept.",
        "open": "Open: the nominal channel keeps every limit, but not all of it is shown. Release "
        "is the engineer's decision.",
        "at risk": "At risk: the nominal channel keeps every limit, a band edge or the worst "
        "channel does not. Release is the engineer's decision.",
        "fail": "NOT FOR CUTTING: the nominal channel breaks a limit of the calculation.",
    }
    words = said[result.verdict]
    if result.verdict != "fail" and not result.nominal_kept:
        words = "NOT FOR CUTTING: a limit of the calculation is not shown to be kept."
    broken = plated.broken if plated is not None else ()
    if not broken:
        return words
    listed = "; ".join(check.text for check in broken)
    return f"NOT FOR PLATING: the plating plan breaks: {listed}. {words}"


def notes(shop: ShopSet) -> list[str]:
    """Return what a reader of the tables must know of these slots.

    Parameters
    ----------
    shop : ShopSet
        All that goes to the shop.

    Returns
    -------
    list of str
        What the cutters leave, and what was noted where the slots were laid.
    """
    codes = ("thin land", "folding roof")
    said = [note.text for note in shop.result.notes if note.code in codes]
    cut = shop.design.closeout.route != "printed"
    return [*shop.plan.notes, *said] if cut else said


def tool_words(tool: Tool) -> str:
    """Return a cutter in words.

    Parameters
    ----------
    tool : Tool
        Cutter on its way.

    Returns
    -------
    str
        Kind, sizes, passes, run-outs.
    """
    cutter = tool.cutter
    said = f"{tool.label}: {cutter.kind}, {cutter.width * MM:g} mm wide, for the {tool.count} slots"
    said += f" of {tool.circuit} (stretch {tool.stretch})"
    if cutter.diameter:
        said += f", disc {cutter.diameter * MM:g} mm in diameter; a reground disc has another path"
    if tool.passes > 1:
        said += (
            f", up to {tool.passes} passes side by side: outermost each (width listed - "
            f"{cutter.width * MM:g})/2 off the middle"
        )
    said += f"; from x = {tool.x[0] * MM:.3f} to {tool.x[-1] * MM:.3f}"
    for ramp in tool.ramps:
        how = (
            f"the slot is shallower over {ramp.length * MM:.1f} mm"
            if ramp.inside
            else f"it needs {ramp.length * MM:.1f} mm free beyond, and marks the blank there"
        )
        said += f"; at its {ramp.place} (x = {ramp.x * MM:.1f}) {how}"
    return said + "."


def lines(shop: ShopSet, plated: Plan | None) -> list[str]:
    """Return what the command prints.

    Parameters
    ----------
    shop : ShopSet
        All that goes to the shop.
    plated : Plan or None
        Plating plan.

    Returns
    -------
    list of str
        Lines: release, slots, cutters, plating, notes.
    """
    found = [f"{shop.design.title}: {release(shop.result, plated)}"]
    for sheet in shop.sheets:
        rows = sheet.rows
        wall = f"{rows.wall.min() * MM:.3f} to {rows.wall.max() * MM:.3f} mm"
        found.append(
            f"{sheet.stretch.circuit}: {sheet.stretch.count} slots each "
            f"{sheet.stretch.index_angle:.6g} deg, {rows.x.size} rows, wall left {wall}"
        )
    found += [tool_words(tool) for tool in shop.tools]
    if plated is not None:
        found.append(f"plating: {plated.on_time / 3600.0:.0f} h with current")
    return found + [f"note: {text}" for text in notes(shop)]

"""The process traveller: operations with their holds, proof tests, cautions, texts of pages."""

from collections.abc import Iterator, Mapping
from typing import Any

from regen.design import Design
from regen.result import Array, Result
from regen.shop.drawings.sheets import ShopSet, Tool
from regen.shop.plating.baths import ZERO_CELSIUS
from regen.shop.plating.plan import PlatingPlan
from regen.sources import read_data

_FILE = read_data("traveller.toml")
MM, HOUR, BAR = 1e3, 3600.0, 1e5


FIRST: str = _FILE["first"]["caution"]
"""The caution that stands before all others."""

LAYERS: Mapping[str, tuple[int, str]] = _FILE["layers"]
"""Layers of the drawings: colour index, and what is on them."""


def cautions(*kinds: str) -> list[str]:
    """Return the cautions of these kinds of work."""
    return [text for kind in kinds for text in _FILE["cautions"][kind]]


def page_text(key: str, **values: object) -> str:
    """Return one text of a page or drawing, its values filled in."""
    text: str = _FILE["pages"][key]
    return text.format(**values)


def page_texts(key: str, **values: object) -> list[str]:
    """Return the texts of a list on a page or drawing, their values filled in."""
    return [text.format(**values) for text in _FILE["pages"][key]]


def tool_text(tool: Tool) -> str:
    """Return a cutter as text: kind, sizes, passes, run-outs."""
    path, stretch, cutter = tool.path, tool.stretch, tool.path.cutter
    width = cutter.width * MM
    text = page_text("tool", label=tool.label, kind=cutter.kind, width=width, stretch=stretch)
    if cutter.diameter:
        text += page_text("tool disc", diameter=cutter.diameter * MM)
    if path.passes > 1:
        text += page_text("tool passes", passes=path.passes, width=width)
    text += page_text("tool span", start=tool.x[0] * MM, stop=tool.x[-1] * MM)
    for ramp in path.ramps:
        if stretch.start <= ramp.x <= stretch.stop:
            key, length = "tool ramp" if ramp.inside else "tool run-out", ramp.length * MM
            text += page_text(key, end=ramp.place, x=ramp.x * MM, length=length)
    return f"{text}."


def tolerances(design: Design) -> dict[str, float]:
    """Return the tolerances of the slots [mm] as the file names them."""
    names = ("width_tolerance", "depth_tolerance", "wall_tolerance")
    return {name: getattr(design.shop, name) * MM for name in names}


def before_plating(design: Design) -> list[str]:
    """Return what must be done and signed before the current is switched on."""
    return [line.format(skin=design.plating.skin) for line in _FILE["before_plating"]["lines"]]


def process(design: Design) -> tuple[str, tuple[str, ...]]:
    """Return a design's process in one line, and its kinds of caution."""
    entry = _FILE["processes"][design.closeout.route]
    return entry["summary"], tuple(entry["cautions"])


def proof_pressures(result: Result) -> dict[str, str]:
    """Return the pressure of each proof test by its name, as the strength checks have it."""
    data, pressures = _FILE["proof"], {}
    for key, name in data["names"].items():
        known = (
            one.value
            for one in result.findings
            if one.section == "proof" and one.unit == "Pa" and key in one.name
        )
        value = next(known, None)
        pressures[name] = data["unknown"] if value is None else f"{value / BAR:.0f} bar gauge"
    return pressures


def operations(
    shop: ShopSet, plated: PlatingPlan | None
) -> Iterator[tuple[int, str, list[str], str]]:
    """Yield number, title, lines and hold of each operation of a design in order.

    They are numbered in tens; the hold is what must be so before work goes on, "" for none.
    """
    values = _values(shop, plated)
    made: list[tuple[str, dict[str, Any]]] = []
    for key in _FILE["processes"][shop.design.closeout.route]["operations"]:
        if key != "plating cycles":
            made.append((key, values))
        elif plated is not None:
            for own in _cycles(shop.design, plated):
                made += [("cycle", values | own), (own["turn"], values | own)]
    for number, (key, own) in enumerate(made, start=1):
        entry = _FILE["operations"][key]
        lines = [line for text in entry["lines"] for line in _filled(text, own)]
        hold = entry.get("hold", "").format(**own).strip()
        yield 10 * number, entry["title"].format(**own), lines, hold


def _filled(text: str, values: Mapping[str, Any]) -> Iterator[str]:
    several = values.get(text[1:-1])
    yield from several if isinstance(several, list) else filter(None, [text.format(**values)])


def _values(shop: ShopSet, plated: PlatingPlan | None) -> dict[str, Any]:
    """Return the texts of the file that are the same in all operations."""
    design, texts = shop.design, _FILE["texts"]
    closeout = design.closeout
    clean = "clean_injector" if design.propellants.oxidizer == "oxygen" else "clean"
    warmest = "see the plating sheet"
    if plated is not None:
        hottest = max(spec.temperature for spec in plated.values.specs)
        warmest = f"{hottest - ZERO_CELSIUS:.0f} degC"
    return {
        "alloy": design.liner.alloy,
        "condition": design.liner.condition,
        "stretches": [
            texts["stretch"].format(
                stretch=sheet.stretch,
                start=sheet.stretch.start * MM,
                stop=sheet.stretch.stop * MM,
                **{name: _span(getattr(sheet.rows, name)) for name in ("width", "depth", "wall")},
            )
            for sheet in shop.sheets
        ],
        "cutters": [tool_text(tool) for tool in shop.tools] or [texts["no_cutters"]],
        **tolerances(design),
        "counts": ", ".join(str(sheet.stretch.count) for sheet in shop.sheets),
        "all_slots": sum(sheet.stretch.count for sheet in shop.sheets),
        "warmest": warmest,
        "volume": sum(sheet.volume for sheet in shop.sheets) * 1e6,
        "skin": design.plating.skin.capitalize(),
        "jacket": f"{closeout.jacket_alloy}, {closeout.jacket_condition}, "
        f"{closeout.jacket * MM:g} mm",
        "bond": closeout.bond_strength / 1e6,
        "proofs": [f"{name}: {at}." for name, at in proof_pressures(shop.result).items()],
        "last_clean": texts["clean_oxygen" if design.coolant.fluid == "oxygen" else clean],
        "residue": "wax" if closeout.route == "electroformed" else "oil",
    }


def _cycles(design: Design, plan: PlatingPlan) -> Iterator[dict[str, Any]]:
    """Yield the texts of each cycle of plating; ``turn`` names the turning that ends it."""
    texts, off = _FILE["texts"], plan.values.turning.tolerance
    pulled = texts["pulled"].format(bond=design.closeout.bond_strength / 1e6)
    lengths = ("growth", "least_from", "least_plated", "most_plated", "least_to")
    for layer in plan.layers:
        left, nickel = layer.left.min(), layer.metal == "nickel"
        for step in layer.steps:
            first, last = step.number == 1, step.number == len(layer.steps)
            yield {
                **{name: getattr(step, name) * MM for name in lengths},
                "number": step.number,
                "count": len(layer.steps),
                "metal": layer.metal.capitalize(),
                "enter": texts["enter"] if nickel or not first else "",
                "current_from": step.current_from,
                "current_to": step.current_to,
                "hours": step.time / HOUR,
                "finished": layer.spec.finished * MM,
                "least": texts["least"].format(
                    least=(left - off) * MM, drawn=left * MM, off=off * MM
                ),
                "pulled": pulled if nickel and first else "",
                "turn": f"turn {layer.metal}" if last else "turn back",
            }


def _span(values: Array) -> str:
    low, high = (f"{float(value) * MM:.3f}" for value in (values.min(), values.max()))
    return f"{low} mm" if low == high else f"{low} to {high} mm"

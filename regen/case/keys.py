"""The sections and keys of a case file, read off the fields of the design; their JSON schema.

A key is a field of its section's class in ``regen.design``, in SI: the type and the annotation of
the field say how the file has it, the text below it what it means. What the file has otherwise
than the design stands here, in ``IN_FILE`` and ``MAKES``.
"""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

import ast
import inspect
import json
import textwrap
from collections.abc import Callable, Mapping
from dataclasses import MISSING, asdict, dataclass, fields, is_dataclass
from itertools import pairwise
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

from regen import design
from regen.case import kinds
from regen.case.along import Along, ContourFile, CountAlong, Strengths
from regen.case.coolant import REFUSED_FILMS, CoolantName, CoolantTableFile, SaturationFile
from regen.case.kinds import Choice, CoolantFlow, Key, Kind, Text
from regen.case.materials import MaterialFiles
from regen.design import JACKET, ContourProfile, MaterialFile
from regen.sources import DATA
from regen.units import Number, Quantity, Refusal, refusal, show, suggestion

SAND_GRAIN_PER_RA = 5.863
"""Equivalent sand grain over Ra [-]; adams_grant_watson2012 in data/sources.toml."""

ROLES = ("gas_side", "coolant_side", "friction", "boiling")
"""Keys of [models] that name a correlation."""


@dataclass(frozen=True)
class Contour:
    """Keys of [contour] beside those of the design."""

    profile: ContourProfile | None = None
    """File with the columns x and r in place of all rules; throat at x = 0."""


@dataclass(frozen=True)
class Materials:
    """Alloys of the user's own."""

    files: tuple[MaterialFile, ...] | None = None
    """Files with stanzas of alloys, in the form of docs/alloys.md; the rows of each alloy stand
    beside its file."""


@dataclass(frozen=True)
class Channels:
    """Keys of [channels] that make the design's roughness."""

    roughness_Ra: Annotated[float | None, Quantity("length", "0.01 um", "100 um")] = None
    """Arithmetic mean roughness of the slots as a shop measures it; or give
    roughness_sand_grain."""
    roughness_sand_grain: Annotated[float | None, Quantity("length", "0.01 um", "500 um")] = None
    """Equivalent sand-grain roughness as friction laws use it; or give roughness_Ra."""


@dataclass(frozen=True)
class Closeout:
    """Keys of [closeout] that make the design's jacket."""

    nickel: Annotated[float, JACKET] = design.Closeout().jacket
    """Thickness of the electroformed nickel jacket on the copper."""


IN_FILE = {"contour": Contour, "materials": Materials, "channels": Channels, "closeout": Closeout}
"""Keys of a section that are no fields of its design, as a class of their own."""

MAKES: Mapping[str, Callable[[Any], dict[str, Any]]] = {
    "count": lambda given: {"count": given.count, "count_changes": given.changes},
    "roughness_Ra": lambda given: {"roughness": SAND_GRAIN_PER_RA * given},
    "roughness_sand_grain": lambda given: {"roughness": given},
    "mass_flow": asdict,
    "nickel": lambda given: {"jacket": given},
    "flow_from": lambda given: _bound("flow_from", given),
    "flow_to": lambda given: _bound("flow_to", given),
}
"""Fields of the design that a key makes of its value, where they are not the key itself."""

OPTIONAL = {"contour.contraction_ratio", "contour.area_ratio", "film.fluid"}
"""Keys that may be left out although the design has no value of its own for them."""
NEEDED = {"coolant.mass_flow"}
"""Keys that must be given although the field of the design may be None."""
NO_DEFAULT = {"coolant.returns_to_injector", "closeout.jacket", "liner.process"}
"""Keys without a default in the schema: what is taken depends on others, or is nothing."""

FROM_CHANNELS = {
    "cooled_from": "Position where its slots begin.",
    "cooled_to": "Position where its slots end.",
    "cooled_to_area_ratio": (
        "Area ratio of the nozzle where its slots end; in place of cooled_to."
    ),
    "count": "Its number of slots.",
    "width": "Width of its slots at the floor.",
    "depth": "Depth of its slots.",
    "passes": "Way of its coolant: one way, or down and back.",
    "turn_loss": "Pressure loss in its turn, in dynamic pressures before it.",
}
"""Keys of a circuit that stand in for those of [channels], and what they mean."""


def _bound(key: str, flow: Any) -> dict[str, Any]:
    by_fuel = flow.mass_flow is None
    return {key: flow.mass_flow or flow.fuel_fraction, "flow_by_fuel": by_fuel}


def _plain(hint: Any) -> Any:
    """Return X for X | None and for X | Y."""
    return get_args(hint)[0] if get_origin(hint) in (Union, UnionType) else hint


def _kind(hint: Any) -> Kind | None:
    """Return how a field of the design is read: by its marks, else its bounds and type."""
    of, *marks = get_args(hint) if get_origin(hint) is Annotated else (hint,)
    of = _plain(of)
    if design.DERIVED in marks:
        return None
    if of in _KINDS:
        return _KINDS[of]
    if get_origin(of) is Literal:
        return Choice(get_args(of), REFUSED_FILMS if of == design.FilmFluid else {})
    if of is str:
        return CoolantName() if design.COOLANT in marks else Text(marks[0])
    if not marks:
        message = f"a field of type {hint} needs bounds, or the mark DERIVED"
        raise TypeError(message)
    bounds = marks[0]
    if design.IN_STEPS in marks:
        return CountAlong(bounds)
    if design.OR_OF_FUEL in marks:
        return CoolantFlow(bounds)
    kind: Kind = Along(bounds) if of is design.Profile else bounds
    return kind


_KINDS: dict[Any, Kind] = {
    bool: kinds.Flag(),
    tuple[design.Heating, ...]: kinds.Heatings(),
    design.Allowables: Strengths(),
    design.CoolantData: CoolantTableFile(),
    design.CoolantSaturation: SaturationFile(),
    tuple[design.Free, ...]: kinds.FreeSizes(),
    design.ContourProfile: ContourFile(),
    tuple[design.MaterialFile, ...]: MaterialFiles(),
}


def _fields(section: str, cls: type) -> dict[str, Key]:
    """Return the keys that the fields of a class are."""
    hints, keys = get_type_hints(cls, include_extras=True), {}
    for one in fields(cls):
        path, default = f"{section}.{one.name}", one.default
        kind = _kind(hints[one.name])
        if kind is not None:
            needed = path in NEEDED or (default is MISSING and path not in OPTIONAL)
            usual = None if default is MISSING or path in NO_DEFAULT else default
            keys[one.name] = Key(kind, needed, usual)
    return keys


_KINDS[tuple[design.Cutter, ...]] = kinds.Cutters(_fields("cutter", design.Cutter))


def _classes() -> dict[str, tuple[type, ...]]:
    """Return the classes whose fields are the keys of each section."""
    hints, classes = get_type_hints(design.Design), {}
    for name in (one.name for one in fields(design.Design)):
        of = _plain(hints[name])
        own = (of,) if is_dataclass(of) else ()
        beside = (IN_FILE[name],) if name in IN_FILE else ()
        if own or beside:
            classes[name] = (*own, *beside)
    return {**classes, "circuits": (design.Circuit,)}


def _keys(section: str) -> dict[str, Key]:
    return {n: key for cls in CLASSES[section] for n, key in _fields(section, cls).items()}


CLASSES = _classes()
SECTIONS: Mapping[str, Mapping[str, Key]] = {n: _keys(n) for n in CLASSES if n != "circuits"}
"""The keys of each section."""

CIRCUIT: Mapping[str, Key] = {
    name: Key(key.kind)
    for name, key in {**SECTIONS["channels"], **_keys("circuits")}.items()
    if name in FROM_CHANNELS or name not in SECTIONS["channels"]
}
"""The keys of a circuit."""

REQUIRED = tuple(
    one.name
    for one in fields(design.Design)
    if one.name in SECTIONS and one.default is MISSING and one.default_factory is MISSING
)
"""Sections that a case must have."""


def keys_of(section: str) -> Mapping[str, Key]:
    """Return the keys of a section; those of a circuit for "circuits"."""
    return CIRCUIT if section == "circuits" else SECTIONS[section]


def kind_of(path: str) -> Kind:
    """Return the kind of value of "section.key" or "circuits.name.key"."""
    section, _, rest = path.partition(".")
    return keys_of(section)[rest.rpartition(".")[2]].kind


def bounds_of(path: str) -> Quantity | Number | None:
    """Return the bounds of one value of a key, None for a key that holds no number."""
    kind = kind_of(path)
    bounds = getattr(kind, "bounds", kind)
    return bounds if isinstance(bounds, Quantity | Number) else None


def homes(key: str) -> str:
    """Return the sections that have a key, as "[a] or [b]"; circuits only repeat keys."""
    return " or ".join(f"[{name}]" for name, keys in SECTIONS.items() if key in keys)


def unknown_key(section: str, key: str) -> Refusal:
    """Return the refusal of a key that a section does not have."""
    names = tuple(keys_of(section))
    home = homes(key)
    do = f"put it below {home}" if home else suggestion(key, names)
    return Refusal("unknown key", ", ".join(names), do)


def check_path(path: str) -> None:
    """Refuse what is no "section.key", "circuits.name.key" or "title".

    The name of a circuit is not looked at.
    """
    section, dot, key = path.partition(".")
    if path == "title":
        return
    if section == "uncertainty":
        raise refusal("no value of the chamber")
    if section == "circuits":
        if path.count(".") != 2:
            raise refusal("no circuit and key")
        key = key.partition(".")[2]
    elif path in SECTIONS:
        raise refusal(
            "no key of a section", do=f"name one of its keys: {', '.join(SECTIONS[path])}"
        )
    elif not dot:
        home = homes(path).strip("[]")
        do = f'write "{home}.{path}"' if home else suggestion(path, (*SECTIONS, "title"))
        raise refusal("no key of a section", do=do)
    elif section not in SECTIONS:
        raise Refusal("unknown section", ", ".join(SECTIONS), suggestion(section, tuple(SECTIONS)))
    if key not in keys_of(section):
        raise unknown_key(section, key)


def check_correlation(role: str, name: str, fluid: str) -> None:
    """Refuse a correlation that its role has not, or that was made for others than ``fluid``.

    The fluid is "" where it is not known.
    """
    from regen.physics import _dispatch  # imports the compiler: only where a name needs it
    from regen.physics.registry import CORRELATIONS

    known = {one: CORRELATIONS[one] for one in getattr(_dispatch, role.upper())}
    fits = [one for one in known if not fluid or known[one].fits(fluid)]
    if name not in known:
        do = suggestion(name, tuple(known))
        raise Refusal("unknown correlation", f"one of {kinds.quoted(fits)}", do)
    what = "" if name in fits else f"it was fitted to {known[name].made_for}"
    if fluid == design.OWN_FLUID and not what and not known[name].without_critical_point:
        what = "it needs the critical point"
        fits = [one for one in fits if known[one].without_critical_point]
    if what:
        raise refusal("made for others", what=what, fluid=fluid, fits=kinds.quoted(fits))


def texts(section: str) -> dict[str, str]:
    """Return what each key of a section means: the text below its field in the source."""
    meanings = {}
    for cls in CLASSES[section]:
        tree = ast.parse(textwrap.dedent(inspect.getsource(cls))).body[0]
        for one, text in pairwise(tree.body if isinstance(tree, ast.ClassDef) else []):
            if isinstance(one, ast.AnnAssign) and isinstance(text, ast.Expr):
                meaning = " ".join(str(ast.literal_eval(text.value)).split())
                meanings[ast.unparse(one.target)] = meaning
    return meanings | (FROM_CHANNELS if section == "circuits" else {})


def json_schema() -> dict[str, Any]:
    """Return the JSON schema of the case file, draft 2020-12: every key's text, kind, default."""
    beside = json.loads((DATA / "case_schema.json").read_text(encoding="utf-8"))
    sections = {name: {"$ref": f"#/$defs/{name.capitalize()}"} for name in SECTIONS}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$defs": {_title(name): _section_schema(name) for name in sorted(CLASSES, key=_title)},
        "additionalProperties": False,
        "description": "A case of regen: one thrust chamber, cooled by slots in its liner.",
        "properties": {**beside["head"], **sections, **beside["tables"]},
        "required": [*beside["head"], *REQUIRED],
        "title": "CaseFile",
        "type": "object",
    }


def _title(section: str) -> str:
    return "Circuit" if section == "circuits" else section.capitalize()


def _section_schema(name: str) -> dict[str, Any]:
    properties, meanings = {}, texts(name)
    for key, entry in keys_of(name).items():
        properties[key] = {**entry.kind.form, "description": meanings[key]}
        if entry.default is not None:
            kind, default = entry.kind, entry.default
            default = show(default, kind.kind) if isinstance(kind, Quantity) else default
            properties[key]["default"] = default
    needed = [key for key, entry in keys_of(name).items() if entry.needed]
    return {
        "additionalProperties": False,
        "description": inspect.getdoc(CLASSES[name][0]),
        "properties": properties,
        **({"required": needed} if needed else {}),
        "title": _title(name),
        "type": "object",
    }

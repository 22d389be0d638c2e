"""Public functions of the library, the core and the checks say arguments, units and results."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "regen"
FILES = [path for path in sorted(PACKAGE.rglob("*.py")) if path.name != "_dispatch.py"]


def room_of(path: Path) -> str:
    parts = path.relative_to(PACKAGE).parts
    return parts[0] if len(parts) > 1 else "root"


ROOMS = sorted({room_of(path) for path in FILES})

IN_FULL = [room for room in ("library", "physics", "checks") if room in ROOMS]
"""Rooms whose functions have numpydoc sections, or a short text with units in brackets.

Elsewhere one line is enough. In the library a short text serves up to ``FEW`` arguments.
"""

FEW = 3

SECTION = re.compile(r"^(\w[\w ]*)\n-{3,}$", re.M)
NUMERIC_TYPE = re.compile(r"\b(float|Array|ArrayLike|NDArray)\b")
NUMBER = re.compile(r": (optional )?(float|ndarray|array_like|int)\b")

Function = ast.FunctionDef | ast.AsyncFunctionDef


def files_of(room: str) -> list[Path]:
    return [path for path in FILES if room_of(path) == room]


def public(nodes: list[ast.stmt], prefix: str = "") -> Iterator[tuple[str, ast.stmt]]:
    """Yield the public functions, classes and methods of a module, by their names."""
    for node in nodes:
        if isinstance(node, Function | ast.ClassDef) and not node.name.startswith("_"):
            yield prefix + node.name, node
            if isinstance(node, ast.ClassDef):
                yield from public(node.body, f"{node.name}.")


def sections(text: str) -> dict[str, str]:
    parts = SECTION.split(text)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def compiled(node: Function) -> bool:
    """Arguments of the compiled core are those of the nomenclature: they need no list."""
    names = [ast.unparse(decorator) for decorator in node.decorator_list]
    return any(name in ("jit", "inlined") or name.startswith("correlation(") for name in names)


def gaps(node: Function, room: str) -> Iterator[str]:
    """Yield what a docstring lacks: full sections, or a short text with its units in brackets."""
    text = ast.get_docstring(node) or ""
    by_title = sections(text)
    arguments = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
    arguments = [argument for argument in arguments if argument.arg not in ("self", "cls")]
    returns = ast.unparse(node.returns) if node.returns else "None"
    if not by_title and (room != "library" or len(arguments) <= FEW):
        types = [ast.unparse(a.annotation) for a in arguments if a.annotation] + [returns]
        has_units = "[" in text or "arguments as" in text
        if any(NUMERIC_TYPE.search(kind) for kind in types) and not has_units:
            yield "a unit in brackets"
        return
    for argument in arguments:
        listed = rf"(^|, ){re.escape(argument.arg)}(,| :|$)"
        if not re.search(listed, by_title.get("Parameters", ""), re.M):
            yield f"parameter {argument.arg}"
    if returns not in ("None", "NoReturn") and not {"Returns", "Yields"} & set(by_title):
        yield "Returns"
    if "Raises" not in by_title and any(isinstance(n, ast.Raise) and n.exc for n in ast.walk(node)):
        yield "Raises"
    for title in ("Parameters", "Returns"):
        for entry in re.split(r"\n(?=\S)", by_title.get(title, "").strip()):
            head = entry.split("\n")[0]
            if NUMBER.search(head) and "bool" not in head and not re.search(r"\[[^\]]+\]", entry):
                yield f"the unit of {head}"


@pytest.mark.parametrize("room", ROOMS)
def test_everything_public_has_a_docstring(room):
    offenders = []
    for path in files_of(room):
        tree = ast.parse(path.read_text())
        for name, node in [("module", tree), *public(tree.body)]:
            if not ast.get_docstring(node):
                offenders.append(f"{path.relative_to(PACKAGE)}: {name}")
    assert not offenders, "\n".join(offenders)


@pytest.mark.parametrize("room", IN_FULL)
def test_functions_name_arguments_units_and_results(room):
    offenders = []
    for path in files_of(room):
        for name, node in public(ast.parse(path.read_text()).body):
            if isinstance(node, Function) and not compiled(node):
                offenders += [
                    f"{path.relative_to(PACKAGE)}: {name}: {gap}" for gap in gaps(node, room)
                ]
    assert not offenders, "\n".join(offenders)

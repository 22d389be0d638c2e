"""Public functions say what they take, with a unit or a kind, what they return and raise."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SECTION = re.compile(r"^(\w[\w ]*)\n-{3,}$", re.M)


def public(path: Path):
    """Yield (name, node) of public functions and methods of public classes."""
    for node in ast.parse(path.read_text()).body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node.name, node
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            for inner in node.body:
                if isinstance(inner, ast.FunctionDef) and not inner.name.startswith("_"):
                    yield f"{node.name}.{inner.name}", inner


def sections(text: str) -> dict[str, str]:
    parts = SECTION.split(text)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def compiled(node: ast.FunctionDef) -> bool:
    names = [ast.unparse(decorator) for decorator in node.decorator_list]
    return any(name in ("jit", "inlined") or name.startswith("correlation(") for name in names)


FUNCTIONS = [
    pytest.param(name, node, id=f"{path.relative_to(ROOT)}:{name}")
    for path in sorted((ROOT / "regen").rglob("*.py"))
    if path.name != "_dispatch.py"
    for name, node in public(path)
]


NUMERIC = re.compile(r"\b(float|Array|ArrayLike|NDArray)\b")


def arguments_of(node: ast.FunctionDef) -> list[ast.arg]:
    every = (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)
    return [argument for argument in every if argument.arg not in ("self", "cls")]


@pytest.mark.parametrize(("name", "node"), FUNCTIONS)
def test_docstring(name, node):
    """Full sections; or one paragraph, with its unit in brackets where numbers come or go."""
    text = ast.get_docstring(node)
    assert text, f"{name} has no docstring"
    if compiled(node):
        # the arguments of a correlation or of the core have the names of the nomenclature
        return
    arguments, found = arguments_of(node), sections(text)
    returns = ast.unparse(node.returns) if node.returns else "None"
    if not found and len(arguments) <= 3:
        kinds = [ast.unparse(a.annotation) for a in arguments if a.annotation] + [returns]
        if any(NUMERIC.search(kind) for kind in kinds):
            assert "[" in text, f"{name}: {text}"
        return
    for argument in arguments:
        listed = rf"(^|, ){re.escape(argument.arg)}(,| :|$)"
        assert re.search(listed, found.get("Parameters", ""), re.M), argument.arg
    if returns not in ("None", "NoReturn"):
        assert "Returns" in found or "Yields" in found
    if any(isinstance(inner, ast.Raise) and inner.exc for inner in ast.walk(node)):
        assert "Raises" in found


NUMBERS = re.compile(r": (optional )?(float|ndarray|array_like|int)\b")


@pytest.mark.parametrize(("name", "node"), FUNCTIONS)
def test_every_number_has_a_unit(name, node):
    text = ast.get_docstring(node) or ""
    for part in ("Parameters", "Returns"):
        block = sections(text).get(part, "")
        entries = re.split(r"\n(?=\S)", block.strip())
        for entry in entries:
            if NUMBERS.search(entry.split("\n")[0]) and "bool" not in entry.split("\n")[0]:
                assert re.search(r"\[[^\]]+\]", entry), f"{name}, {part}: {entry}"

"""Imports go one way, heavy packages stay in their rooms, and a cached solve stays light."""

from __future__ import annotations

import ast
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FILES = sorted((ROOT / "regen").rglob("*.py"))

ROOMS = (
    *("live", "output", "studies", "shop", "checks", "solver", "case"),
    *("gas", "coolant", "metals", "geometry", "storage", "physics"),
)
"""From the top: each room imports from itself, from those after it, and from the root."""

ROOT_FILES = {"__init__", "design", "errors", "quantities", "result", "sources", "units"}
"""The public face, frozen values, errors, units and references: they import from no room."""

ROOMS_OF_PACKAGES = {
    "cantera": ("gas/",),
    "CoolProp": ("coolant/", "gas/feeds.py"),
    "pydantic": ("case",),
    "pint": ("units.py",),
    "tomlkit": ("case",),
    "matplotlib": ("output/figures/",),
    "skfem": ("checks/section.py",),
    "ezdxf": ("output/shop_dxf.py",),
    "jinja2": (
        "output/page.py",
        "output/report.py",
        "output/closeout_sheet.py",
        "output/shop_pages.py",
    ),
    "distributed": ("studies/sweep/scheduler.py",),
    "pyarrow": ("output/sweep_parquet.py",),
    "rich": ("output/table.py", "output/terminal.py", "output/closeout_terminal.py"),
    "numba": ("physics/_jit.py",),
    "typer": (),
}


def imports(path: Path, *, only_top: bool = False) -> list[str]:
    tree = ast.parse(path.read_text())
    nodes = tree.body if only_top else ast.walk(tree)
    found = []
    for node in nodes:
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.append(node.module)
            found += [f"{node.module}.{alias.name}" for alias in node.names]
    return found


def room(module: str) -> str | None:
    """Return the folder of a module of regen, "" for one at its root, None for another's."""
    parts = module.split(".")
    if parts[0] != "regen":
        return None
    return parts[1] if len(parts) > 1 and (ROOT / "regen" / parts[1]).is_dir() else ""


def test_rooms_are_the_folders():
    folders = {path.parent.relative_to(ROOT / "regen").parts[:1] for path in FILES}
    assert {parts[0] for parts in folders if parts} <= set(ROOMS)
    assert {path.stem for path in FILES if path.parent == ROOT / "regen"} <= ROOT_FILES


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_go_one_way(path):
    own = room(".".join(path.relative_to(ROOT).with_suffix("").parts))
    if path == ROOT / "regen" / "__init__.py":
        return
    for name in imports(path):
        other = room(name)
        if other and other != own:
            assert own, f"{path.name} at the root imports {name}"
            assert ROOMS.index(other) > ROOMS.index(own), f"{path.name} imports {name}"


@pytest.mark.parametrize("package", sorted(ROOMS_OF_PACKAGES))
def test_a_package_has_one_adaptor(package):
    allowed = ROOMS_OF_PACKAGES[package]
    for path in FILES:
        if any(name.split(".")[0] == package for name in imports(path)):
            place = str(path.relative_to(ROOT / "regen"))
            assert place.startswith(allowed or ("nowhere",)), f"{place} imports {package}"


def test_physics_rests_on_numpy_and_the_compiler_alone():
    standard = set(sys.stdlib_module_names)
    for path in (ROOT / "regen" / "physics").glob("*.py"):
        for name in imports(path):
            base = name.split(".")[0]
            ours = name.startswith(("regen.physics", "regen.sources"))
            assert ours or base in standard | {"numpy", "numba", "platformdirs"}, (path.name, name)


@pytest.mark.parametrize(
    "package", ["scipy", "skfem", "cantera", "CoolProp", "matplotlib", "ezdxf"]
)
def test_no_slow_package_is_imported_with_a_module(package):
    for path in FILES:
        if not path.parent.name == "figures":
            tops = {name.split(".")[0] for name in imports(path, only_top=True)}
            assert package not in tops, path


PROGRAM = """
import json, sys
from regen_cli.app import app
try:
    app({arguments!r}, standalone_mode=False)
except SystemExit as stop:
    code = stop.code
print(json.dumps(sorted(sys.modules)), file=sys.stderr)
"""


def modules_after(*arguments: str) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM.format(arguments=list(arguments))],
        capture_output=True,
        text=True,
        env=os.environ,
    )
    return set(json.loads(done.stderr.splitlines()[-1]))


RADIATES = ("--set", "models.radiation=everywhere")


@pytest.mark.parametrize(
    ("name", "more"),
    [
        ("d-water-calorimeter", ()),
        ("c-ethanol-film", RADIATES),
        (
            "c-ethanol-bare",
            ("--set", "film.model=layer mixture ratio", *RADIATES)
            + ("--set", "film.layer_mixture_ratio=0.9"),
        ),
    ],
)
def test_a_cached_solve_imports_no_property_library(tmp_path, name, more):
    case, out = str(ROOT / "cases" / f"{name}.toml"), str(tmp_path)
    warm = ("solve", case, "-o", out, *more)
    modules_after(*warm)
    loaded = modules_after(*warm, "--set", "liner.wall=0.9 mm")
    assert (tmp_path / "result.json").exists()
    assert "numba" in loaded
    heavy = {"CoolProp", "cantera", "matplotlib", "jinja2", "skfem"}
    heavy |= {"scipy.optimize", "scipy.interpolate", "scipy.sparse"}
    assert not loaded & heavy, loaded & heavy


def test_help_imports_nothing_that_computes():
    loaded = modules_after("--help")
    assert "typer" in loaded
    heavy = {"numpy", "numba", "pydantic", "pint", "CoolProp", "cantera", "matplotlib"}
    assert not loaded & heavy, loaded & heavy

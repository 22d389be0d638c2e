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
    *("library", "live", "output", "studies", "shop", "checks", "solver", "case"),
    *("gas", "coolant", "metals", "geometry", "storage", "physics"),
)
"""From the top: each room imports from itself, from those after it, and from the root."""

ROOT_FILES = {
    *("__init__", "design", "errors", "quantities", "result", "sources", "texts", "units"),
}
"""The public face, frozen values, errors, texts, units, references: they import from no room."""

ROOMS_OF_PACKAGES = {
    "cantera": ("gas/",),
    "CoolProp": ("coolant/", "gas/feeds.py", "gas/vapour.py"),
    "pydantic": (),
    "pint": ("units.py",),
    "tomlkit": ("case",),
    "matplotlib": ("output/figures/", "library/review.py"),
    "skfem": ("checks/section.py",),
    "ezdxf": ("output/shop_drawings.py",),
    "jinja2": ("output/page.py",),
    "distributed": ("studies/sweep/scheduler.py",),
    "pyarrow": ("output/sweep_table.py",),
    "rich": ("output/table.py", "output/review.py", "library/"),
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


def test_imports_go_one_way():
    offenders = []
    for path in FILES:
        place = path.relative_to(ROOT)
        own = room(".".join(place.with_suffix("").parts))
        for name in imports(path):
            other = room(name)
            if path == ROOT / "regen" / "__init__.py" or not other or other == own:
                continue
            if not own or ROOMS.index(other) < ROOMS.index(own):
                offenders.append(f"{place} imports {name}")
    assert not offenders, "\n".join(offenders)


def test_a_package_has_one_adaptor():
    offenders = []
    for path in FILES:
        place = str(path.relative_to(ROOT / "regen"))
        for package in {name.split(".")[0] for name in imports(path)} & set(ROOMS_OF_PACKAGES):
            if not place.startswith(ROOMS_OF_PACKAGES[package] or ("nowhere",)):
                offenders.append(f"{place} imports {package}")
    assert not offenders, "\n".join(offenders)


def test_physics_rests_on_numpy_and_the_compiler_alone():
    standard = set(sys.stdlib_module_names)
    offenders = []
    for path in (ROOT / "regen" / "physics").glob("*.py"):
        for name in imports(path):
            ours = name.startswith(("regen.physics", "regen.sources"))
            others = standard | {"numpy", "numba", "platformdirs"}
            if not (ours or name.split(".")[0] in others):
                offenders.append(f"{path.name} imports {name}")
    assert not offenders, "\n".join(offenders)


SLOW_TO_IMPORT = {"scipy", "skfem", "cantera", "CoolProp", "matplotlib", "ezdxf"}


def test_no_slow_package_is_imported_with_a_module():
    offenders = []
    for path in FILES:
        tops = {name.split(".")[0] for name in imports(path, only_top=True)}
        if path.parent.name != "figures" and tops & SLOW_TO_IMPORT:
            offenders.append(f"{path.relative_to(ROOT)} imports {tops & SLOW_TO_IMPORT}")
    assert not offenders, "\n".join(offenders)


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
        pytest.param("d-water-calorimeter", (), marks=pytest.mark.full),
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

"""The demo chamber on its way to the shop, without a solve: nothing there changes a cut."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from types import SimpleNamespace

import numpy as np

from regen.case.read import load_case
from regen.geometry.circuits import lay_paths
from regen.geometry.contour import build_contour
from regen.output import shop
from regen.result import Finding
from regen.shop.cutters.plan import plan_cutting
from regen.shop.drawings.sheets import shop_set
from regen.studies.release.as_machined import Machined
from regen.studies.release.to_shop import ToShop
from tests.helpers.places import CASES

HOTTEST = -0.020

SAW = (
    "channels.width=0.8 mm",
    'shop.cutters=[{kind="saw",width="0.8 mm",diameter="30 mm",depth="5 mm"}]',
)


def result(
    *findings: Finding, verdict: str = "at risk", nominal_kept: bool = True
) -> SimpleNamespace:
    """Return what the shop asks of a result."""
    return SimpleNamespace(
        summary={"x_T_wall_hot_max_m": HOTTEST, "T_wall_hot_max_K": 760.0},
        verdict=verdict,
        nominal_kept=nominal_kept,
        notes=(),
        findings=findings,
        provenance={"regen": "0.1.0"},
    )


def to_shop(
    *overrides: str, case: str | Path = "a-methane", of: SimpleNamespace | None = None
) -> ToShop:
    """Return a case on its way to the shop."""
    path = case if isinstance(case, Path) else CASES / f"{case}.toml"
    design = load_case(path, overrides).design
    contour = build_contour(design.contour)
    cut = plan_cutting(design, contour, lay_paths(design, contour))
    drawn = shop_set(cut, of or result(), case_hash="ab" * 32)
    return ToShop(Machined(cut, ()), drawn=drawn)


def files(found: ToShop) -> dict[str, str]:
    """Return all files as text by name."""
    contents = shop.collect(found, Path()).files
    return {name: content.decode() for name, content in contents.items()}


def table(text: str) -> dict[str, np.ndarray]:
    """Return the columns of a CSV, numbers as floats with NaN for none."""
    head, *rows = csv.reader(io.StringIO(text))
    columns = {}
    for name, cells in zip(head, zip(*rows, strict=True), strict=True):
        try:
            columns[name] = np.array([float(cell) if cell else np.nan for cell in cells])
        except ValueError:
            columns[name] = np.array(cells)
    return columns

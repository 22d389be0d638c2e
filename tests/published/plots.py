"""Figures of docs/validation.md: drawn from the records and from what the tests compute."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from tests.published import gather
from tests.published import measured_chambers as measured
from tests.published import square_chamber as square
from tests.published import test_conical_nozzle as nozzle
from tests.published import test_correlations as correlations
from tests.published import test_materials as materials
from tests.published.ledger import Check

RED, BLUE, ORANGE, GREEN, GREY = "#D55E00", "#0072B2", "#E69F00", "#009E73", "#555555"
PURPLE, SKY = "#CC79A7", "#56B4E9"
COLOURS = (BLUE, RED, GREEN, ORANGE, PURPLE, SKY)
MARKERS = "osD^vP"
DASHES = ("-", "--", "-.", ":", (0, (5, 1, 1, 1, 1, 1)), (0, (1, 1)))
WIDTH = 8.2  # in

# no date and fixed identifiers: the same numbers give the same file
RC = {
    "font.size": 9,
    "axes.grid": True,
    "grid.alpha": 0.3,
    "axes.axisbelow": True,
    "svg.hashsalt": "regen",
}


def _figure(height: float, columns: int = 1, **more) -> tuple[Figure, np.ndarray]:
    figure = Figure(figsize=(WIDTH, height), layout="constrained")
    return figure, np.atleast_1d(figure.subplots(1, columns, **more))


def _dots(ax: Axes, checks: Iterable[Check], colour: dict[str, str]) -> None:
    """Ours over theirs less 1, a row each, on a grey bar of what is allowed."""
    rows = list(checks)
    y = np.arange(len(rows))[::-1]
    allowed = 100.0 * np.array([c.tolerance for c in rows])
    ax.barh(y, 2 * allowed, left=-allowed, height=0.75, color="0.88", label="allowed")
    seen: set[str] = set()
    for at, c in zip(y, rows, strict=True):
        kind = c.mark
        marker = MARKERS[sorted(colour).index(kind)]
        label = None if kind in seen else kind
        seen.add(kind)
        ax.plot(100.0 * c.miss, at, marker, ms=5, color=colour[kind], label=label)
    ax.axvline(0.0, color=GREY, lw=0.8)
    ax.set_yticks(y, [f"{c.series.split(': ')[-1]}, {c.point}" for c in rows], fontsize=7)
    ax.set_ylim(-0.7, len(rows) - 0.3)
    ax.grid(axis="y", visible=False)
    ax.set(xlabel="ours over theirs, less 1 [%]", xlim=(-16, 16))
    ax.legend(fontsize=7, loc="upper right")


def chemistry() -> Figure:
    rows = [
        r for r in gather.records(gather.chemistry_outside)
        if isinstance(r, Check) and not r.absolute
    ]  # fmt: skip
    marks = sorted({r.mark for r in rows})
    figure, axes = _figure(5.2)
    _dots(axes[0], rows, dict(zip(marks, COLOURS, strict=False)))
    return figure


def nozzle_mach() -> Figure:
    figure, axes = _figure(3.2, 2)
    area = np.geomspace(1.0, 12.0, 80)
    gas = nozzle.perfect(1.4)
    for ax, downstream, label in ((axes[0], False, None), (axes[0], True, "ours, gamma 1.4")):
        mach = [float(nozzle.state(gas, a, downstream)[nozzle.C_MACH]) for a in area]
        ax.plot(area, mach, color=BLUE, label=label)
    rows = np.array(nozzle.TABLE_ROWS)
    axes[0].plot(rows[:, 3], rows[:, 0], "o", ms=4, mfc="none", color=RED, label="printed table")
    axes[0].set(xscale="log", xlabel="area over throat area [-]", ylabel="Mach number [-]")
    axes[0].set_xticks([1, 2, 5, 10], ["1", "2", "5", "10"])
    axes[0].minorticks_off()
    axes[0].legend(fontsize=8)
    x = np.linspace(0.0, 90e-3, 60)
    ratio = np.maximum(nozzle.cone_area_ratio(x), 1.0)
    mach = [float(nozzle.state(gas, a, True)[nozzle.C_MACH]) for a in ratio]
    axes[1].plot(1e3 * x, mach, color=BLUE, label="ours, one dimension")
    at = 1e3 * nozzle.CONE["x"]
    axes[1].plot(at, nozzle.CONE_MACH, "s", color=GREEN, label="separate, one dimension")
    axes[1].plot(at, nozzle.CONE_AXIS_MACH, "o", color=RED, label="published, on the axis")
    axes[1].set(xlabel="distance from the throat [mm]", ylabel="Mach number [-]")
    axes[1].legend(fontsize=8)
    return figure


def square_chamber() -> Figure:
    figure, axes = _figure(3.8, 2)
    at = square.flux_from_wall()
    z = 1e3 * at.z
    for form, colour, dash in zip(square.FORMS, COLOURS, DASHES, strict=False):
        label = form.replace("_", " ")
        style = {"color": colour, "ls": dash, "lw": 1.3}
        axes[0].plot(z, square.predicted(form) / 1e6, label=f"{label}, unfitted", **style)
        axes[1].plot(z, square.fit(form).fitted / 1e6, label=f"{label}, one factor", **style)
    for ax in axes:
        ax.plot(z, at.q / 1e6, "o", ms=3.5, color="k", label="from wall temperatures")
        ax.set(xlabel="z [mm]", ylabel="heat flux [MW/m²]")
        ax.legend(fontsize=7)
    axes[0].set_ylim(0, 29)
    axes[1].set_ylim(0, 8.5)
    axes[1].axvspan(z[0], square.FIT_TO, color="0.92")
    axes[1].text(z[0] + 3, 0.25, "fitted here", fontsize=8, color=GREY)
    return figure


def hydrogen_tube() -> Figure:
    figure, axes = _figure(3.2)
    at, ax = measured.tube(), axes[0]
    x = at.x / measured.TUBE["diameter_m"]
    low, high = measured.floored_band(at.ours, at.bulk)
    ax.fill_between(x, low, high, color="0.9")
    for form, colour, dash in zip(measured.FORMS, COLOURS, DASHES, strict=False):
        label = form.replace("_", " ")
        ax.plot(x, at.ours[form], color=colour, ls=dash, lw=1.4, label=label)
    ax.plot(x, at.measured, "o", ms=4.5, color="k", label="measured")
    ax.set(xlabel="heated length in diameters", ylabel="wall temperature [K]", ylim=(150, 650))
    ax.legend(fontsize=8)
    return figure


def milled_cylinder() -> Figure:
    figure, axes = _figure(3.2, 2)
    walls, bulk = measured.cylinder(), measured.cylinder_bulk()
    low, high = measured.floored_band(walls, bulk)
    for n, (ax, slots) in enumerate(zip(axes, measured.CYLINDER["slots"], strict=True)):
        ax.fill_between(bulk, low[n], high[n], color="0.9")
        for form, colour, dash in zip(measured.FORMS, COLOURS, DASHES, strict=False):
            label = form.replace("_", " ")
            ax.plot(bulk, walls[form][n], color=colour, ls=dash, lw=1.4, label=label)
        ax.axhline(slots["wall_K"], color="k", lw=1.2, label="inferred by the authors")
        ax.set(xlabel="coolant, assumed [K]", title=f"{slots['count']} slots")
    axes[0].set_ylabel("hot wall at the throat [K]")
    axes[1].legend(fontsize=7)
    return figure


def hydrogen_nozzle() -> Figure:
    figure, axes = _figure(3.0)
    ax, ours = axes[0], measured.nozzle_constants()
    places = list(next(iter(ours.values())))
    at = np.arange(len(places))
    rows = np.array([[constants[place] for place in places] for constants in ours.values()])
    ax.fill_between(at, rows.min(axis=0), rows.max(axis=0), color="0.9")
    for name, row, colour, dash in zip(ours, rows, COLOURS, DASHES, strict=False):
        ax.plot(at, row, color=colour, ls=dash, lw=1.4, label=name.replace("_", " "))
    for i, place in enumerate(places):
        found = np.atleast_1d(measured.NOZZLE["C"][place])
        ax.plot([i] * found.size, found, "o", ms=5, color="k", label="" if i else "measured")
    ax.set_xticks(at, places)
    ax.set(ylabel="C [-]", ylim=(0.01, 0.04))
    ax.legend(fontsize=7, ncols=2)
    return figure


def coolant_properties() -> Figure:
    rows = [r for r in gather.records(gather.coolant_properties) if isinstance(r, Check)]
    figure, axes = _figure(3.6)
    ax = axes[0]
    series = list(dict.fromkeys(r.series for r in rows if not r.absolute))
    y = {name: len(series) - i for i, name in enumerate(series)}
    for name, height in y.items():
        those = [r for r in rows if r.series == name and not r.absolute]
        for tolerance in {r.tolerance for r in those}:
            ax.plot([100 * tolerance] * 2, [height - 0.35, height + 0.35], color=RED, lw=1.2)
        # nothing is drawn below a millionth: those points agree to every printed digit
        misses = [max(100 * abs(r.miss), 1e-4) for r in those]
        ax.plot(misses, [height] * len(misses), "o", ms=4.5, mfc="none", color=BLUE)
    ax.plot([], [], "o", mfc="none", color=BLUE, label="points (left edge: 1e-4 % or less)")
    ax.plot([], [], color=RED, label="allowed")
    ax.set(xscale="log", xlabel="difference [%]", xlim=(7e-5, 60))
    ax.set_yticks(list(y.values()), list(y), fontsize=8)
    ax.legend(fontsize=8, loc="upper right")
    return figure


def smooth_friction() -> Figure:
    figure, axes = _figure(3.4, 2)
    Re, f = (np.array(v) for v in correlations.oregon_smooth_data)
    grid = np.geomspace(10.0, 1.2e6, 300)
    for (name, law), colour, dash in zip(gather.LAWS.items(), COLOURS, DASHES, strict=False):
        curve = np.array([law(at, 0.0) for at in grid])
        curve[np.argmax(grid > 2040.0)] = np.nan  # the forms jump here
        axes[0].plot(grid, curve, color=colour, ls=dash, label=name)
        off = 100.0 * (np.array([law(at, 0.0) for at in Re]) / f - 1.0)
        axes[1].plot(Re, off, MARKERS[len(axes[1].lines)], ms=4, mfc="none", color=colour,
                     label=name)  # fmt: skip
    axes[0].plot(Re, f, "ko", ms=3, mfc="none", label=f"{Re.size} measured points")
    axes[0].set(xscale="log", yscale="log", xlabel="Reynolds number", ylabel="friction factor")
    for low, high, limit in (
        (1e4, 2e6, correlations.EACH_POINT),
        (10.0, 1.2e3, correlations.EACH_LAMINAR),
    ):
        axes[1].fill_between([low, high], -100 * limit, 100 * limit, color="0.88", zorder=0)
    axes[1].axhline(0.0, color=GREY, lw=0.8)
    axes[1].set(
        xscale="log", xlabel="Reynolds number", ylabel="ours over measured, less 1 [%]",
        ylim=(-20, 60),
    )  # fmt: skip
    for ax in axes:
        ax.legend(fontsize=8, loc="best")
    return figure


def wall_elements() -> Figure:
    figure, axes = _figure(3.0, 3)
    names = {"hot_max": "hot wall's highest", "heat": "heat taken up", "floor": "slot floor's flux"}
    for ax, (key, title) in zip(axes, names.items(), strict=True):
        for n, (name, box) in enumerate(gather.wall.BOXES.items()):
            found = 100.0 * gather.wall_errors(name)[key]
            bounds = {"hot_max": box.worst, "heat": (-box.heat, box.heat), "floor": box.floor}
            low, high = (100.0 * v for v in bounds[key])
            ax.bar(n, high - low, bottom=low, width=0.7, color="0.88")
            side = np.linspace(-0.25, 0.25, found.size)
            ax.plot(n + side, found, MARKERS[n], ms=3.5, mfc="none", color=COLOURS[n])
        ax.axhline(0.0, color=GREY, lw=0.8)
        ax.set_xticks(range(3), ["copper", "wide,\nshallow", "poor\nconductor"], fontsize=8)
        ax.set_title(title, fontsize=9)
        ax.grid(axis="x", visible=False)
    axes[0].set_ylabel("ours over finite elements, less 1 [%]")
    return figure


def copper() -> Figure:
    figure, axes = _figure(2.9)
    T = np.linspace(77.0, 1000.0, 300)
    axes[0].plot(T, materials.conductivity("Cu-OFHC", T), color=BLUE, label="ours, pure copper")
    marks = zip("osD", (RED, ORANGE, GREEN), strict=True)
    rows = list(materials.copper_conductivity_checks())
    for source in dict.fromkeys(r.source for r in rows):
        those = [r for r in rows if r.source == source]
        marker, colour = next(marks)
        axes[0].plot(
            [float(r.point.removesuffix(" K")) for r in those], [r.theirs for r in those], marker,
            mfc="none", color=colour, label=those[0].series.split(", ", 1)[1],
        )  # fmt: skip
    T = np.linspace(300.0, 1100.0, 200)
    axes[0].plot(
        T, materials.conductivity("Cu-Cr-Nb-8-4", T), "--", color=PURPLE, label="ours, Cu-8Cr-4Nb"
    )
    rows = list(materials.two_fits_checks())
    axes[0].plot(
        [float(r.point.removesuffix(" K")) for r in rows], [r.theirs for r in rows], "v",
        mfc="none", color=PURPLE, label="Cu-8Cr-4Nb, the report's other fit",
    )  # fmt: skip
    axes[0].set(xlabel="temperature [K]", ylabel="conductivity [W/(m K)]", ylim=(250, 570))
    axes[0].legend(fontsize=8)
    return figure


FIGURES = {
    "chemistry": chemistry,
    "nozzle_mach": nozzle_mach,
    "hydrogen_nozzle": hydrogen_nozzle,
    "milled_cylinder": milled_cylinder,
    "hydrogen_tube": hydrogen_tube,
    "square_chamber": square_chamber,
    "coolant_properties": coolant_properties,
    "smooth_friction": smooth_friction,
    "wall_elements": wall_elements,
    "copper": copper,
}


def save(name: str, path: Path) -> None:
    """Draw a figure and write it as SVG."""
    with mpl.rc_context(RC):
        FIGURES[name]().savefig(path, format="svg", metadata={"Date": None})

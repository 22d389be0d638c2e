"""Figures of an uncertainty study: bands along x, probabilities, distribution, what matters."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from regen.output.figures.style import BESIDE, BLUE, BOX, GREY, ORANGE, RED, THROAT, sheet
from regen.output.labels import limit_name, limit_of
from regen.output.uncertainty import INTERVAL, LABELS, MODELS, NOTES, interval, lost
from regen.quantities import quantity
from regen.studies.uncertainty.indices import Array, Indices
from regen.studies.uncertainty.study import QUANTILES, Along, Uncertainty

T_WALL = "T_wall_hot_max_K"

LIMIT: dict[str, Any] = {"color": RED, "lw": 1.4, "ls": (0, (6, 2))}
NOMINAL: dict[str, Any] = {"color": "black", "lw": 1.2, "ls": (0, (2, 1.5))}
MEDIAN: dict[str, Any] = {"color": BLUE, "lw": 1.8}


def figures(study: Uncertainty) -> dict[str, Callable[[], Figure]]:
    """Return what draws each figure, by its path; of temperature only where one was solved."""
    drawings: dict[str, Callable[[], Figure]] = {
        "probability": partial(probability_figure, study),
        "indices": partial(indices_figure, study),
    }
    if study.along is not None:
        drawings["wall_temperature_bands"] = partial(bands_figure, study, study.along)
    if np.isfinite(_peaks(study)).any():
        drawings["peak_wall_temperature"] = partial(distribution_figure, study)
    return {f"figures/{stem}.svg": drawing for stem, drawing in drawings.items()}


def _peaks(study: Uncertainty) -> Array:
    """Return the peak wall temperature of every design counted (B,) [K]."""
    return study.outputs[T_WALL][: study.base]


def _unsolved(study: Uncertainty) -> int:
    return study.base - int(study.rows.solved[: study.base].sum())


def _sheet(height: float, study: Uncertainty, title: str, *texts: str) -> tuple[Figure, Axes]:
    """Return a figure of a height [in] with axes, and what must be known of it below."""
    whole = [*filter(None, texts), f"{study.base} designs, seed {study.seed}."]
    if _unsolved(study):
        whole.append(f"{_unsolved(study)} are not solved and count as worse than any other.")
    whole.append(f"Nominal channel of each; {MODELS}.")
    figure = sheet(height, study.title, [" ".join(whole)])
    ax = figure.subplots()
    ax.set_title(title)
    return figure, ax


def _limit(study: Uncertainty) -> float | None:
    """Return the limit of the hot-gas-side wall [K] where the case itself was judged by it."""
    return limit_of(study.nominal.margins if study.nominal else (), "hot_wall_temperature")


def bands_figure(study: Uncertainty, along: Along) -> Figure:
    """Draw the bands of wall temperature along the chamber."""
    x, T = along.x * 1e3, along.T_wall_hot
    limit = _limit(study)
    own_T = study.nominal.stations["T_wall_hot_K"].max() if study.nominal else 0.0
    top = 1.04 * max(float(T[np.isfinite(T)].max(initial=0.0)), limit or 0.0, own_T)
    low, quarter, median, three, high = np.where(np.isinf(T), top, T)
    figure, ax = _sheet(
        *(5.4, study, "Hot-gas-side wall temperature along the chamber"),
        NOTES["bands"],
        f"{along.how}." if along.how else "",
    )
    ax.fill_between(x, low, high, color=BLUE, alpha=0.18, lw=0, label="5 to 95 % of designs")
    ax.fill_between(x, quarter, three, color=BLUE, alpha=0.30, lw=0, label="25 to 75 %")
    ax.plot(x, np.where(np.isinf(T[2]), np.nan, median), **MEDIAN, label="50 %")
    if study.nominal is not None:
        own = study.nominal.stations
        ax.plot(own["x_m"] * 1e3, own["T_wall_hot_K"], **NOMINAL, label="the case itself")
    if limit is not None:
        ax.axhline(limit, **LIMIT, label=f"limit of the wall, {limit:.0f} K")
    if np.isinf(T).any():
        _open_end(ax, study, top)
    ax.axvline(0.0, **THROAT)
    ax.set_xlabel("x [mm], throat at 0, injector left")
    ax.set_ylabel(quantity("T_wall_hot_K", "hot-gas-side wall temperature").axis)
    ax.legend(loc="best", fontsize=8)
    return figure


def _open_end(ax: Axes, study: Uncertainty, top: float) -> None:
    """Say that edges that reach the top [K] are not known: too many designs are not solved."""
    share = _unsolved(study) / study.base
    known = [f"{q:.0%}" for q in QUANTILES if q <= 1.0 - share]
    edge = f"edges above {known[-1].replace('%', ' %')} are" if known else "every edge is"
    text = f"open above: {share:.1%}".replace("%", " %") + f" of designs not solved, so {edge} open"
    ax.set_ylim(top=top)
    ax.text(0.5, 0.97, text, transform=ax.transAxes, ha="center", va="top", fontsize=8, bbox=BOX)


def probability_figure(study: Uncertainty) -> Figure:
    """Draw the probability of keeping each limit with its sampling error."""
    below = "What is not solved or not evaluated does not count as met."
    title, height = "Probability of meeting each limit", 2.2 + 0.42 * len(study.kept)
    figure, ax = _sheet(height, study, title, below)
    for place, one in enumerate(study.kept):
        left = 0.0
        for number, face, hatch, label in (
            (one.kept, "#bcd8ec", "", "met"),
            (one.broken, "#e09a5f", "", "exceeded"),
            (one.not_evaluated, "white", "...", "not evaluated"),
            (one.not_solved, "#f2f2f2", "xxx", "not solved"),
        ):
            look: dict[str, Any] = {"facecolor": face, "hatch": hatch, "edgecolor": "#777777"}
            width = number / one.count
            look["label"] = "" if place else label  # once in the legend
            ax.barh(place, width, left=left, height=0.62, lw=0.4, **look)
            left += width
        if one.known:
            p = one.probability
            look = {"color": GREY if one.informative else "black", "capsize": 4, "lw": 1.6}
            error = [[p - one.low], [one.high - p]]
            ax.errorbar(p, place, xerr=error, fmt="o", ms=4, **look)
        ax.annotate(interval(one), (1.0, place), (6, 0), **{**BESIDE, "va": "center"})
    names = [limit_name(one.limit, one.informative) for one in study.kept]
    ax.set_yticks(range(len(names)), names)
    ax.invert_yaxis()
    ax.set_xlim(0.0, 1.0)
    ax.grid(visible=False, axis="y")
    ax.set_xlabel(
        f"share of the designs [-]; dot and bar: probability of meeting the limit, {INTERVAL}"
    )
    figure.legend(loc="outside upper right", ncols=4, fontsize=8, frameon=False)
    figure.suptitle(study.title, fontsize=11, x=0.02, ha="left")
    return figure


def distribution_figure(study: Uncertainty) -> Figure:
    """Draw the share of designs whose peak wall temperature stays below each value."""
    peaks = np.sort(_peaks(study)[np.isfinite(_peaks(study))])
    share = np.arange(1, peaks.size + 1) / study.base
    limit = _limit(study)
    title = "Peak hot-gas-side wall temperature: how the designs are spread"
    figure, ax = _sheet(5.0, study, title)
    bars = ax.twinx()
    bars.hist(peaks, bins=40, color=GREY, alpha=0.25)
    bars.set_ylabel("designs in a bar [-]", color=GREY)
    bars.grid(visible=False)
    bars.yaxis.set_major_locator(MaxNLocator(integer=True))
    ax.set_zorder(bars.get_zorder() + 1)
    ax.patch.set_visible(False)
    ax.step(peaks, share, where="post", **MEDIAN, label="share of designs at or below")
    if study.nominal is not None:
        own = float(study.nominal.summary[T_WALL])
        ax.axvline(own, **NOMINAL, label=f"the case itself, {quantity(T_WALL).amount(own)}")
    if limit is not None:
        ax.axvline(limit, **LIMIT, label=f"limit, {limit:.0f} K")
    if _unsolved(study):
        label = f"solved: {100.0 * share[-1]:.1f} % of designs"
        ax.axhline(share[-1], color=ORANGE, lw=1.0, ls=(0, (1, 1)), label=label)
    ax.set_ylim(0.0, 1.02)
    ax.set_xlabel(quantity(T_WALL).axis)
    ax.set_ylabel("share of all designs at or below [-]")
    ax.legend(loc="upper left", fontsize=8)
    return figure


def indices_figure(study: Uncertainty) -> Figure:
    """Draw first-order and total indices of every output, with their intervals."""
    # the same order in every panel: by the largest total index of any output
    totals = np.stack([np.nan_to_num(indices.total) for indices in study.indices.values()])
    order = np.argsort(-totals.max(axis=0), kind="stable")
    places = np.arange(float(order.size))
    height = 1.8 + 3 * (0.7 + 0.24 * order.size)
    texts = (
        NOTES["indices"],
        *(f"{text[0].upper()}{text[1:]}." for text in lost(study)),
        f"{len(study.rows)} designs, seed {study.seed}.",
    )
    title = f"{study.title}\nWhich input matters: sensitivity indices"
    figure = sheet(height, title, [" ".join(texts)])
    panels = figure.subplots(3, 2, sharex=True, sharey=True).ravel()
    for ax, (key, label) in zip(panels, LABELS.items(), strict=True):
        indices = study.indices[key]
        _bars(ax, places, indices, order)
        ax.set_title(label, fontsize=9)
        if not np.isfinite(indices.total).any():
            ax.text(0.5, 0.5, "no index", transform=ax.transAxes, ha="center", bbox=BOX)
        ax.grid(visible=False, axis="y")
    panels[0].set_yticks(places, [study.inputs[n].path for n in order])
    panels[0].invert_yaxis()
    for ax in panels[-2:]:
        ax.set_xlabel("share of the output's variance [-]")
    panels[1].legend(loc="lower right", fontsize=8, title=f"whiskers: {INTERVAL}")
    return figure


def _bars(ax: Axes, places: Array, indices: Indices, order: NDArray[np.intp]) -> None:
    for label, kind, colour, hatch, shift in (
        ("first order", "first", ORANGE, "", -0.19),
        ("total", "total", BLUE, "//", 0.19),
    ):
        value, low, high = (getattr(indices, kind + end)[order] for end in ("", "_low", "_high"))
        at, known = places + shift, np.isfinite(value)
        look: dict[str, Any] = {"color": colour, "label": label, "hatch": hatch, "lw": 0}
        ax.barh(at, np.nan_to_num(value), height=0.36, edgecolor="white", **look)
        ends = np.maximum([value - low, high - value], 0.0)[:, known]
        look = {"fmt": "none", "ecolor": "black", "lw": 0.9, "capsize": 2}
        ax.errorbar(value[known], at[known], xerr=ends, **look)
    ax.axvline(0.0, color="black", lw=0.6)

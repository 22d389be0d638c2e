"""Which of the shop's cutters make the slots of a design, and the floor that they leave."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from regen.checks.shop_rules import greatest_aspect, least_land
from regen.design import ContourProfile, Cutter, Design
from regen.geometry.circuits import Path, lay_paths
from regen.geometry.contour import Contour, build_contour
from regen.geometry.curves import Array, mm
from regen.shop.cutters.slots import Slot, Stretch, fine, place, text
from regen.shop.cutters.tool_paths import ToolPath, Trial, tool_paths, try_cutter


@dataclass(frozen=True)
class CircuitCut:
    """One circuit's slots as they come from the cutters, at the places (F,) of ``slot`` [m].

    ``wall`` is the hot wall that is left, normal to the contour; ``made_width`` the width at the
    cut floor: that of the design, but of a narrower cutter that runs on alone where a wider one has
    its ramp. ``tool_paths`` is empty where the shop's cutters are not given, or none can make the
    slots; ``trials`` has every cutter for every stretch. ``problems`` say why the shop cannot make
    the slots, ``beyond`` where the floor is farther from the drawing than
    ``shop.depth_tolerance``, ``notes`` what a reader must know all the same, ``beyond`` included.
    """

    slot: Slot
    wall: Array
    made_width: Array
    tool_paths: tuple[ToolPath, ...]
    trials: tuple[Trial, ...]
    problems: tuple[str, ...]
    notes: tuple[str, ...]
    beyond: tuple[str, ...] = ()

    @property
    def extra(self) -> Array:
        """Copper left on the wanted floor (F,) [m]."""
        return self.wall - self.slot.wall

    @property
    def depth(self) -> Array:
        """Cuttable depth, normal to the contour (F,) [m]: the blank's outside does not move."""
        return self.slot.depth - self.extra

    @property
    def bridge(self) -> tuple[float, float]:
        """Largest extra copper away from ramps, and where along x [m]; (0, 0) without a cut."""
        return max(((path.bridge, path.x_bridge) for path in self.tool_paths), default=(0.0, 0.0))


@dataclass(frozen=True)
class CutPlan:
    """How the shop's cutters make the slots of a design, circuit by circuit in their order."""

    circuits: tuple[CircuitCut, ...]

    @property
    def problems(self) -> tuple[str, ...]:
        """Why the shop cannot make the slots; empty if it can."""
        return tuple(text for circuit in self.circuits for text in circuit.problems)

    @property
    def notes(self) -> tuple[str, ...]:
        """What a reader must know all the same."""
        return tuple(text for circuit in self.circuits for text in circuit.notes)

    @property
    def bridge(self) -> tuple[float, float]:
        """Largest extra copper away from ramps, and where along x [m]."""
        return max(circuit.bridge for circuit in self.circuits)


def plan_cutting(design: Design, contour: Contour, paths: Sequence[Path]) -> CutPlan:
    """Choose the shop's cutters for the slots of a design, and find the floor that they leave.

    A saw makes slots of its own width; an end mill those of its own width in one pass and wider
    or tapering ones in several. A cutter must reach the slot's depth, and the depth over its
    width may be at most ``shop.greatest_aspect``. Of those that can, one that leaves no more
    copper than ``shop.depth_tolerance`` goes before one that does; then fewer passes, a saw, a
    larger disc. One cutter for the whole slot goes before several. Of several each also runs on
    into wider stretches beside its own, never into narrower.
    Without ``shop.cutters`` the floor is the wanted one. Nothing is raised for what cannot be made.
    """
    first = min(float(path.x[0]) for path in paths)
    last = max(float(path.x[-1]) for path in paths)
    outer = ((float(path.x[0]) <= first, float(path.x[-1]) >= last) for path in paths)
    slots = (Slot(design, contour, *ends) for ends in zip(paths, outer, strict=True))
    return CutPlan(tuple(map(_circuit, slots)))


def cannot_cut(design: Design, throat_radius: float) -> tuple[str, ...]:
    """Return why the shop cannot cut a design as drawn: problems, and floors out of tolerance.

    Nothing is prepared: ``throat_radius`` [m] is that of the contour, which thrust may have sized.
    A printed chamber asks for no cutters.
    """
    if design.closeout.route == "printed":
        design = replace(design, shop=replace(design.shop, cutters=()))
    by_points = isinstance(design.contour, ContourProfile)
    contour = build_contour(design.contour, None if by_points else throat_radius)
    plan = plan_cutting(design, contour, lay_paths(design, contour))
    return (*plan.problems, *(text for circuit in plan.circuits for text in circuit.beyond))


def _circuit(slot: Slot) -> CircuitCut:
    shop = slot.design.shop
    trials = tuple(try_cutter(slot, cutter, s) for s in slot.stretches for cutter in shop.cutters)
    problems, chosen = [*_limits(slot)], _chosen(trials, slot.stretches, shop.depth_tolerance)
    for stretch in slot.stretches if shop.cutters else ():
        if not any(trial.stretch == stretch for trial in chosen):
            problems.append(_none_can(slot, stretch, [t for t in trials if t.stretch == stretch]))
    cuts = () if problems else tool_paths(slot, chosen)
    wall, width = slot.wall, slot.width
    if cuts:
        walls = np.stack([cut.wall for cut in cuts])
        deepest = np.argmin(walls, axis=0)
        wall = np.maximum(walls.min(axis=0), slot.wall)
        narrow = np.array([cut.cutter.width for cut in cuts])[deepest]
        full = np.array([cut.passes > 1 for cut in cuts])[deepest]
        width = np.where(full, slot.width, np.minimum(narrow, slot.width))
    beyond = tuple(_beyond(slot, cuts))
    notes = (*_plenums(slot), *beyond, *_cut_notes(slot, cuts, width))
    return CircuitCut(slot, wall, width, cuts, trials, tuple(problems), notes, beyond)


def _chosen(trials: Sequence[Trial], stretches: Sequence[Stretch], tolerance: float) -> list[Trial]:
    """Return the best cutter for each stretch that can be made: one for all, if one can."""
    able = [trial for trial in trials if not trial.reasons]

    def rank(trial: Trial) -> tuple[float, ...]:
        bridge, cutter = trial.bridge or 0.0, trial.cutter
        left = bridge if bridge > tolerance else 0.0
        return left, trial.passes, float(cutter.kind != "saw"), -(cutter.diameter or cutter.width)

    whole = [
        alone
        for cutter in {trial.cutter: None for trial in able}
        if len(alone := [t for t in able if t.cutter == cutter]) == len(stretches)
    ]
    if whole:
        best = min(whole, key=lambda alone: max(map(rank, alone)))
        if max(map(rank, best))[0] == 0.0:
            return best
    by_stretch = [[t for t in able if t.stretch == stretch] for stretch in stretches]
    return [min(some, key=rank) for some in by_stretch if some]


def cutter_name(cutter: Cutter) -> str:
    """Return a cutter as the shop calls it, such as "saw 0.8 mm, disc of 63 mm"."""
    disc = f", disc of {mm(cutter.diameter)}" if cutter.diameter else ""
    return f"{cutter.kind} {mm(cutter.width)}{disc}"


# what cannot be made, and what must be known


def _limits(slot: Slot) -> Iterator[str]:
    """Yield what is against the shop's limits whatever cuts it."""
    shop, passage = slot.design.shop, slot.path.passage
    at = int(np.argmin(passage.land))
    if passage.land[at] < least_land(shop):
        land, x = passage.land[at], passage.x[at]
        yield slot.text("thin land", land=land, x=x, least=shop.least_land)
    aspect = slot.depth / slot.width
    at = int(np.argmax(aspect))
    if aspect[at] > greatest_aspect(shop):
        sizes = {"depth": slot.depth[at], "width": slot.width[at], "aspect": f"{aspect[at]:.3g}"}
        yield slot.text("aspect", x=slot.x[at], **sizes, most=f"{shop.greatest_aspect:g}")
    slopes = np.abs(np.diff(slot.depth) / np.diff(slot.x))
    at, most = int(np.argmax(slopes)), slot.design.sizing.depth_slope
    if slopes[at] > most * (1 + 1e-6):
        yield slot.text("steep", slope=f"{slopes[at]:.3g}", x=slot.x[at], most=f"{most:g}")


def _none_can(slot: Slot, stretch: Stretch, trials: Sequence[Trial]) -> str:
    """Return the refusal of a stretch that no cutter makes, with the reasons of all."""
    widths = sorted(trial.cutter.width for trial in trials)
    nearest = min(widths, key=lambda width: abs(width - stretch.narrowest))
    kind, wide = "none straight", mm(stretch.widest)
    if stretch.tapers:
        kind, wide = "none tapering", f"{mm(stretch.narrowest)} to {wide}"
    return slot.text(
        "none",
        start=stretch.start,
        stop=stretch.stop,
        widths=wide,
        deepest=float(slot.depth[slot.within(stretch.start, stretch.stop)].max()),
        reasons="; ".join(f"{cutter_name(t.cutter)}: {', '.join(t.reasons)}" for t in trials),
        remedy=text(kind, narrowest=stretch.narrowest, nearest=nearest),
    )


def _plenums(slot: Slot) -> Iterator[str]:
    """Yield what is to be known where slots end inside the cooled length."""
    (start, stop), changes = slot.span, slot.channels.count_changes
    inner = [x for x, own in zip(slot.span, slot.outer, strict=True) if not own]
    if places := sorted({*inner, *(x for x, _ in changes if start < x < stop)}):
        yield slot.text("plenums", places=", ".join(map(mm, places)))
    if not slot.design.shop.cutters:
        yield slot.text("no cutters")


def _beyond(slot: Slot, cuts: Sequence[ToolPath]) -> Iterator[str]:
    """Yield where cutters leave more copper on the floor than the tolerance."""
    tolerance = slot.design.shop.depth_tolerance
    for cut in cuts:
        if cut.bridge > tolerance:
            how = "bridges the arc" if cut.cutter.kind == "saw" else "does not follow the floor"
            name, left, x = cutter_name(cut.cutter), fine(cut.bridge), place(cut.x_bridge)
            yield slot.text("beyond", cutter=name, how=how, left=left, x=x, tolerance=tolerance)


def _cut_notes(slot: Slot, cuts: Sequence[ToolPath], width: Array) -> Iterator[str]:
    """Yield what must be known of the cut floor."""
    for cut in cuts:
        name = cutter_name(cut.cutter)
        if cut.cutter.depth is None:
            yield slot.text("depth of cut", cutter=name, reach=fine(cut.reach))
        for ramp in cut.ramps:
            kind, length = "ramp" if ramp.inside else "runs out", place(ramp.length)
            yield slot.text(kind, cutter=name, x=ramp.x, end=ramp.place, length=length)
    narrow = width < slot.width - 1e-6
    if np.any(narrow):
        x = slot.x[narrow]
        yield slot.text("runs on", start=x[0], stop=x[-1], width=width[narrow].min())

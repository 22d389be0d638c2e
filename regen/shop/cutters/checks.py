"""Which of the shop's cutters make the slots of a design, and the floor that they leave."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from regen.checks.shop_rules import greatest_aspect, least_land
from regen.design import ContourProfile, Cutter, Design
from regen.geometry.circuits import Path, lay_paths
from regen.geometry.contour import Contour, build_contour
from regen.geometry.curves import Array, mm
from regen.shop.cutters.slots import Slot, Stretch, fine, place
from regen.shop.cutters.tool_paths import Cut, Ramp, Weighed, cuts_of, weigh

__all__ = ["CircuitCut", "Cut", "CutPlan", "Ramp", "Weighed", "cannot_cut", "plan", "said"]


@dataclass(frozen=True)
class CircuitCut:
    """One circuit's slots as they come from the cutters, at the places (F,) by rising x, SI.

    Parameters
    ----------
    name : str
        Of the circuit.
    key : str
        Where the case gives its slots: "channels", or "circuits.name".
    x, r, slope : ndarray
        Contour: axial position, radius [m], angle to the axis [rad].
    width, wanted_wall, wanted_depth : ndarray
        As the design wants them [m].
    wall : ndarray
        Hot wall that is left, normal to the contour [m].
    made_width : ndarray
        Width at the cut floor [m]: that of the design, but of a narrower cutter that runs on
        alone where a wider one has its ramp.
    cuts : tuple of Cut
        By cutter; empty where the shop's cutters are not given, or none can make the slots.
    weighed : tuple of Weighed
        Every cutter for every stretch.
    problems : tuple of str
        Why the shop cannot make these slots, in words with all reasons; empty if it can.
    beyond : tuple of str
        Where the floor is farther from the drawing than ``shop.depth_tolerance``, in words.
    notes : tuple of str
        What a reader must know all the same, ``beyond`` included.
    """

    name: str
    key: str
    x: Array
    r: Array
    slope: Array
    width: Array
    wanted_wall: Array
    wanted_depth: Array
    wall: Array
    made_width: Array
    cuts: tuple[Cut, ...]
    weighed: tuple[Weighed, ...]
    problems: tuple[str, ...]
    notes: tuple[str, ...]
    beyond: tuple[str, ...] = ()

    @property
    def extra(self) -> Array:
        """Copper left on the wanted floor (F,) [m]."""
        return self.wall - self.wanted_wall

    @property
    def depth(self) -> Array:
        """Cuttable depth, normal to the contour (F,) [m]: the blank's outside does not move."""
        return self.wanted_depth - self.extra

    @property
    def floor(self) -> tuple[Array, Array]:
        """Cut floor on the normals of the contour: axial position and radius (F,) [m]."""
        return (
            self.x - self.wall * np.sin(self.slope),
            self.r + self.wall * np.cos(self.slope),
        )

    @property
    def bridge(self) -> tuple[float, float]:
        """Largest extra copper away from ramps, and where along x [m]; (0, 0) without a cut."""
        return max(((cut.bridge, cut.x_bridge) for cut in self.cuts), default=(0.0, 0.0))


@dataclass(frozen=True)
class CutPlan:
    """How the shop's cutters make the slots of a design, circuit by circuit in their order."""

    circuits: tuple[CircuitCut, ...]

    @property
    def problems(self) -> tuple[str, ...]:
        """Why the shop cannot make the slots; empty if it can."""
        return tuple(text for circuit in self.circuits for text in circuit.problems)

    @property
    def beyond(self) -> tuple[str, ...]:
        """Where the floor is farther from the drawing than the shop's tolerance."""
        return tuple(text for circuit in self.circuits for text in circuit.beyond)

    @property
    def notes(self) -> tuple[str, ...]:
        """What a reader must know all the same."""
        return tuple(text for circuit in self.circuits for text in circuit.notes)

    @property
    def bridge(self) -> tuple[float, float]:
        """Largest extra copper away from ramps, and where along x [m]."""
        return max(circuit.bridge for circuit in self.circuits)


def plan(design: Design, contour: Contour, paths: Sequence[Path]) -> CutPlan:
    """Choose the shop's cutters for the slots of a design, and find the floor that they leave.

    Parameters
    ----------
    design : Design
        Gives hot wall and shop.
    contour : Contour
        Hot-gas contour, as ``prepare.prepare(design).contour``.
    paths : sequence of Path
        Circuits laid along it, as ``prepare.prepare(design).paths``.

    Returns
    -------
    CutPlan
        One ``CircuitCut`` a circuit: cutters, cut floor, remaining wall, cuttable depth, the way
        of each cutter, ramps, and in words what cannot be made. Nothing is raised for that.

    Notes
    -----
    A saw makes slots of its own width; an end mill those of its own width in one pass and wider
    or tapering ones in several. A cutter must reach the slot's depth, and the depth over its
    width may be at most ``shop.greatest_aspect``. Of those that can, one that leaves no more
    copper than ``shop.depth_tolerance`` goes before one that does; then fewer passes, a saw, a
    larger disc. One cutter for the whole slot goes before several. Of several each also runs on
    into wider stretches beside its own, never into narrower.
    Without ``shop.cutters`` the floor is the wanted one.
    """
    starts = [float(path.x[0]) for path in paths]
    stops = [float(path.x[-1]) for path in paths]
    found = []
    for path in paths:
        outer = float(path.x[0]) <= min(starts), float(path.x[-1]) >= max(stops)
        allowed = design.shop.run_out
        ends = (
            not outer[0] or allowed in ("both ends", "injector"),
            not outer[1] or allowed in ("both ends", "nozzle"),
        )
        found.append(_circuit(Slot(design, contour, path, ends), outer))
    return CutPlan(tuple(found))


def cannot_cut(design: Design, throat_radius: float) -> tuple[str, ...]:
    """Return why the shop cannot cut a design as it is drawn; the design is not prepared.

    Parameters
    ----------
    design : Design
        Checked design.
    throat_radius : float
        Of its contour, which thrust may have sized [m].

    Returns
    -------
    tuple of str
        ``CutPlan.problems`` and ``CutPlan.beyond``: a floor out of tolerance is another design.
        Empty if it can. A printed chamber asks for no cutters.
    """
    if design.closeout.route == "printed":
        design = replace(design, shop=replace(design.shop, cutters=()))
    by_points = isinstance(design.contour, ContourProfile)
    contour = build_contour(design.contour, None if by_points else throat_radius)
    found = plan(design, contour, lay_paths(design, contour))
    return (*found.problems, *found.beyond)


def _circuit(slot: Slot, outer: tuple[bool, bool]) -> CircuitCut:
    shop = slot.design.shop
    weighed = tuple(weigh(slot, cutter, s) for s in slot.stretches for cutter in shop.cutters)
    problems, notes = _limits(slot), _plenums(slot, outer)
    chosen = _chosen(weighed, slot.stretches, shop.depth_tolerance)
    for stretch in slot.stretches if shop.cutters else ():
        if not any(w.stretch == stretch for w in chosen):
            mine = [w for w in weighed if w.stretch == stretch]
            problems.append(_none_can(slot, stretch, mine))
    cuts = () if problems else cuts_of(slot, chosen)
    wall, width = slot.wall.copy(), slot.width.copy()
    if cuts:
        walls = np.stack([cut.wall for cut in cuts])
        deepest = np.argmin(walls, axis=0)
        wall = np.maximum(walls.min(axis=0), slot.wall)
        narrow = np.array([cut.cutter.width for cut in cuts])[deepest]
        full = np.array([cut.passes > 1 for cut in cuts])[deepest]
        width = np.where(full, slot.width, np.minimum(narrow, slot.width))
    if not shop.cutters:
        notes.append(
            f"{slot.key}: shop.cutters names none, so the floor is taken as the design wants it: "
            "name the shop's saws and end mills to have it checked"
        )
    found = CircuitCut(
        name=slot.path.name,
        key=slot.key,
        x=slot.x,
        r=slot.r,
        slope=slot.slope,
        width=slot.width,
        wanted_wall=slot.wall,
        wanted_depth=slot.depth,
        wall=wall,
        made_width=width,
        cuts=cuts,
        weighed=weighed,
        problems=tuple(problems),
        notes=tuple(notes),
    )
    beyond = tuple(_beyond(found.key, cuts, shop.depth_tolerance))
    return replace(found, notes=(*notes, *beyond, *_of_the_cut(slot, found)), beyond=beyond)


def _chosen(
    weighed: Sequence[Weighed], stretches: Sequence[Stretch], tolerance: float
) -> list[Weighed]:
    """Return the best cutter for each stretch that can be made: one for all, if one can."""
    able = [w for w in weighed if not w.reasons]

    def rank(one: Weighed) -> tuple[float, ...]:
        return _rank(one, tolerance)

    whole = [
        alone
        for cutter in {w.cutter: None for w in able}
        if len(alone := [w for w in able if w.cutter == cutter]) == len(stretches)
    ]
    if whole:
        best = min(whole, key=lambda alone: max(map(rank, alone)))
        if max(map(rank, best))[0] == 0.0:
            return best
    by_stretch = [[w for w in able if w.stretch == stretch] for stretch in stretches]
    return [min(some, key=rank) for some in by_stretch if some]


def _rank(one: Weighed, tolerance: float) -> tuple[float, ...]:
    bridge, cutter = one.bridge or 0.0, one.cutter
    left = bridge if bridge > tolerance else 0.0
    return left, one.passes, float(cutter.kind != "saw"), -(cutter.diameter or cutter.width)


def said(cutter: Cutter) -> str:
    """Return a cutter as the shop calls it, such as "saw 0.8 mm, disc of 63 mm"."""
    disc = f", disc of {mm(cutter.diameter)}" if cutter.diameter else ""
    return f"{cutter.kind} {mm(cutter.width)}{disc}"


# what cannot be made, and what must be known


def _limits(slot: Slot) -> list[str]:
    """Return what is against the shop's limits whatever cuts it."""
    shop, passage, found = slot.design.shop, slot.path.passage, []
    at = int(np.argmin(passage.land))
    if passage.land[at] < least_land(shop):
        found.append(
            f"{slot.key}: the land is {mm(passage.land[at])} wide at x = {mm(passage.x[at])}, "
            f"below shop.least_land {mm(shop.least_land)}; cut fewer or narrower slots"
        )
    aspect = slot.depth / slot.width
    at = int(np.argmax(aspect))
    if aspect[at] > greatest_aspect(shop):
        found.append(
            f"{slot.key}: at x = {mm(slot.x[at])} the slot is {mm(slot.depth[at])} deep and "
            f"{mm(slot.width[at])} wide, {aspect[at]:.3g} times as deep as wide, above "
            f"shop.greatest_aspect {shop.greatest_aspect:g}; cut shallower or wider slots"
        )
    slopes = np.abs(np.diff(slot.depth) / np.diff(slot.x))
    at, most = int(np.argmax(slopes)), slot.design.sizing.depth_slope
    if slopes[at] > most * (1 + 1e-6):
        found.append(
            f"{slot.key}.depth: it changes by {slopes[at]:.3g} of the length near x = "
            f"{mm(slot.x[at])}, faster than a cutter follows (sizing.depth_slope {most:g}); spread "
            "the change"
        )
    return found


def _plenums(slot: Slot, outer: tuple[bool, bool]) -> list[str]:
    """Return what is to be known where slots end inside the cooled length."""
    (start, stop), changes = slot.span, slot.path.circuit.channels.count_changes
    inner = [x for x, own in zip((start, stop), outer, strict=True) if not own]
    places = sorted({*inner, *(x for x, _ in changes if start < x < stop)})
    if not places:
        return []
    where = ", ".join(mm(x) for x in places)
    return [
        f"{slot.key}: slots end at x = {where}: a cutter is taken to run out into the groove of "
        "the plenum there, which must be as long as the run-out of a disc, or it cuts the lands "
        "beyond"
    ]


def _none_can(slot: Slot, stretch: Stretch, weighed: list[Weighed]) -> str:
    """Return the refusal of a stretch that no cutter makes, with the reasons of all."""
    here = slot.within(stretch.start, stretch.stop)
    widths = mm(stretch.widest)
    if stretch.tapers:
        widths = f"{mm(stretch.narrowest)} to {mm(stretch.widest)}"
    deep = slot.depth[here]
    reasons = "; ".join(f"{said(w.cutter)}: {', '.join(w.reasons)}" for w in weighed)
    text = (
        f"{slot.key}: no cutter of shop.cutters makes the slots from x = {mm(stretch.start)} to "
        f"{mm(stretch.stop)}, {widths} wide and up to {mm(float(deep.max()))} deep. {reasons}. "
    )
    widths_there = sorted({w.cutter.width for w in weighed})
    nearest = min(widths_there, key=lambda w: abs(w - stretch.narrowest))
    mill = f"an end mill of at most {mm(stretch.narrowest)} would do"
    if stretch.tapers:
        return (
            f"{text}A width that tapers asks for several passes: {mill}; or give the slots one "
            f"width, nearest {mm(nearest)}"
        )
    return f"{text}A saw of {mm(stretch.narrowest)} or {mill}; the nearest width is {mm(nearest)}"


def _beyond(key: str, cuts: Sequence[Cut], tolerance: float) -> Iterator[str]:
    """Yield where cutters leave more copper on the floor than the tolerance [m]."""
    for cut in cuts:
        if cut.bridge > tolerance:
            way = "bridges the arc" if cut.cutter.kind == "saw" else "does not follow the floor"
            yield (
                f"{key}: the {said(cut.cutter)} {way} and leaves {fine(cut.bridge)} of copper on "
                f"the floor at x = {place(cut.x_bridge)}, more than shop.depth_tolerance "
                f"{mm(tolerance)}"
            )


def _of_the_cut(slot: Slot, found: CircuitCut) -> list[str]:
    """Return what must be known of the cut floor."""
    notes = []
    for cut in found.cuts:
        name = said(cut.cutter)
        if cut.cutter.depth is None:
            notes.append(
                f"{found.key}: the depth of cut of the {name} is not given; it needs "
                f"{fine(cut.reach)}"
            )
        for ramp in cut.ramps:
            notes.append(f"{found.key}: {_ramp_words(name, ramp)}")
    narrow = found.made_width < found.width - 1e-6
    if np.any(narrow):
        x = found.x[narrow]
        notes.append(
            f"{found.key}: between x = {mm(float(x[0]))} and {mm(float(x[-1]))} a wider cutter has "
            "its ramp and a narrower one runs on: the lower part of the slot is "
            f"{mm(float(found.made_width[narrow].min()))} wide there"
        )
    return notes


def _ramp_words(name: str, ramp: Ramp) -> str:
    if ramp.inside:
        return (
            f"the {name} may not run out at x = {mm(ramp.x)} ({ramp.place}): over the last "
            f"{place(ramp.length)} the slot is a ramp"
        )
    return (
        f"the {name} runs out {place(ramp.length)} beyond x = {mm(ramp.x)} ({ramp.place}): keep "
        "that length free, or see shop.run_out"
    )

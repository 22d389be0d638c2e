"""Drawings for lathe and mill as DXF, and sketches of one pitch as SVG; alone knows ezdxf."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from io import StringIO
from textwrap import wrap
from typing import TYPE_CHECKING, Any

import numpy as np

from regen.shop.drawings import sheets
from regen.shop.drawings.outlines import Curve
from regen.shop.drawings.stretches import BLANK, FLOOR, HOT_WALL, Ring
from regen.shop.traveller import LAYERS, page_text

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts import Modelspace

MM = 1e3
WRAP = 100
"""Letters of a line of the title."""

VERSION = "R2000"
MILLIMETRES = 4
"""Of $INSUNITS."""

TEXT, DIMENSIONS, AXIS, DISCS = "TEXT", "DIMENSIONS", "CENTRE_LINE", "CUTTER_AT_ITS_ENDS"
OTHER = 8
"""Colour index of a layer without one of its own."""


def profile(
    curves: Sequence[tuple[str, Curve]],
    lines: Sequence[str],
    tools: Sequence[sheets.Tool] = (),
) -> bytes:
    """Return a meridional half-section as DXF in mm: x along the axis, throat at 0, y the radius.

    ``curves`` by layer [m], the hot-gas contour among them; ``lines`` are the lines of the title;
    the discs of ``tools`` are drawn at both ends of their paths.
    """
    discs = [
        (float(tool.x[end]), float(tool.r[end]), tool.path.radius)
        for tool in tools
        if tool.path.radius > 0.0
        for end in (0, -1)
    ]
    named = {name for name, _ in curves} | ({DISCS} if discs else set())
    drawing, space = _new(named)
    for name, curve in curves:
        vertices = np.column_stack((curve.x * MM, curve.r * MM, curve.bulge))
        space.add_lwpolyline(vertices, "xyb", dxfattribs={"layer": name})
    for x, r, radius in discs:
        space.add_circle((x * MM, r * MM), radius * MM, dxfattribs={"layer": DISCS})
    hot = next(curve for name, curve in curves if name == sheets.CONTOUR)
    low, high = (float(x) for x in hot.x[[0, -1]] * MM)
    over, size = 0.04 * (high - low), 0.012 * (high - low)
    _axis(space, (low - over, 0), (high + over, 0))
    face, exit_ = (low, hot.r[0] * MM), (high, hot.r[-1] * MM)
    throat = (0.0, float(np.interp(0.0, hot.x, hot.r)) * MM)
    _dimension(space, face, throat, (0.0, -4 * size), 0.0, size)
    _dimension(space, face, exit_, (0.0, -8 * size), 0.0, size)
    _dimension(space, (0.0, 0.0), throat, (0.0, 0.0), 90.0, size, "R <>")
    _dimension(space, (low, 0.0), face, (low - 3 * size, 0.0), 90.0, size, "R <>")
    top = max(curve.r.max() for _, curve in curves) * MM
    top = max([top, *((r + radius) * MM for _, r, radius in discs)])
    _title(space, lines, named, (low, top), size)
    return _bytes(drawing)


def slot_section(rings: Sequence[Ring], lines: Sequence[str]) -> bytes:
    """Return sections normal to the axis as DXF in mm, whole rings side by side, full size."""
    named = {"LINER", "SLOTS", "COPPER", "JACKET"}
    drawing, space = _new(named)
    apart = 2.6 * max(max(ring.radii.values()) for ring in rings) * MM
    size = 0.018 * apart
    for number, ring in enumerate(rings):
        _ring(space, ring, number * apart, size)
    _title(space, lines, named, (-apart / 2, apart / 2), size)
    return _bytes(drawing)


def slot_outline(ring: Ring, angle: float) -> tuple[np.ndarray, np.ndarray]:
    """Return corners of one slot in its ring (4, 2) about the axis [mm], and bulges of its sides.

    ``angle`` of the slot's middle is counterclockwise from y [rad]. Sides are parallel and the
    floor is straight across, as a saw or an end mill leaves them; the top lies on the blank's
    circle.
    """
    half = ring.width / 2 * MM
    floor, top = ring.radii[FLOOR] * MM, ring.radii[BLANK] * MM
    shoulder = float(np.sqrt(top**2 - half**2))
    flat = np.array([(half, floor), (half, shoulder), (-half, shoulder), (-half, floor)])
    turn = np.array([(np.cos(angle), np.sin(angle)), (-np.sin(angle), np.cos(angle))])
    arc = float(np.tan(np.arcsin(half / top) / 2))
    return flat @ turn, np.array([0.0, arc, 0.0, 0.0])


def _ring(space: Modelspace, ring: Ring, centre: float, size: float) -> None:
    """Draw one section about (centre, 0)."""
    radii = {name: radius * MM for name, radius in ring.radii.items()}
    layers = {HOT_WALL: "LINER", BLANK: "LINER"}
    for name, radius in radii.items():
        if name != FLOOR:
            layer = layers.get(name, "COPPER" if "copper" in name else "JACKET")
            space.add_circle((centre, 0), radius, dxfattribs={"layer": layer})
    count = ring.stretch.count
    for k in range(count):
        points, bulge = slot_outline(ring, -2 * np.pi * k / count)
        corners = [(x + centre, y, b) for (x, y), b in zip(points, bulge, strict=True)]
        space.add_lwpolyline(corners, "xyb", close=True, dxfattribs={"layer": "SLOTS"})
    reach = max(radii.values()) + 2 * size
    for along, across in ((reach, 0.0), (0.0, reach)):
        _axis(space, (centre - along, -across), (centre + along, across))
    lines = [
        f"{ring.name.upper()}, x = {ring.x * MM:.4f} from throat",
        f"{count} slots, index {360 / count:.6f} deg, slot 1 at top, clockwise",
        f"width {ring.width * MM:.3f}, floor R {radii[FLOOR]:.4f}, top R {radii[BLANK]:.4f}",
        f"hot wall R {radii[HOT_WALL]:.4f}",
    ]
    for n, line in enumerate(lines):
        _text(space, line, (centre - reach, -reach - 2 * size * (n + 1)), size)
    _text(space, "1", (centre - size / 3, reach + size / 2), size)


@contextmanager
def _without_clock() -> Iterator[Any]:
    """Give ezdxf with no clock in its files: same design, same file."""
    import ezdxf

    fixed = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        yield ezdxf
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = fixed


def _new(names: set[str]) -> tuple[Drawing, Modelspace]:
    """Return an empty drawing in millimetres with the layers of these names."""
    with _without_clock() as ezdxf:
        drawing = ezdxf.new(VERSION, setup=["linetypes", "styles"])
    drawing.header["$INSUNITS"] = MILLIMETRES
    drawing.header["$MEASUREMENT"] = 1
    drawing.header["$LUNITS"] = 2
    for name in sorted({*names, TEXT, DIMENSIONS, AXIS}):
        drawing.layers.add(name, color=LAYERS.get(name, (OTHER, ""))[0])
    return drawing, drawing.modelspace()


def _axis(space: Modelspace, one: tuple[float, float], other: tuple[float, float]) -> None:
    space.add_line(one, other, dxfattribs={"layer": AXIS, "linetype": "CENTER"})


def _dimension(
    space: Modelspace,
    one: Any,
    two: Any,
    base: tuple[float, float],
    angle: float,
    size: float,
    text: str = "<>",
) -> None:
    style: dict[str, Any] = {"dimtxt": size, "dimasz": size * 0.7, "dimdec": 3, "dimexe": size / 2}
    style |= {"dimexo": size / 2, "dimgap": size / 3, "dimtad": 1, "dimscale": 1.0, "dimzin": 0}
    style |= {"dimdsep": ord("."), "dimlfac": 1.0}
    shown = space.add_linear_dim(
        base=base,
        p1=one,
        p2=two,
        angle=angle,
        text=text,
        override=style,
        dxfattribs={"layer": DIMENSIONS},
    )
    shown.render()


def _title(
    space: Modelspace,
    lines: Sequence[str],
    named: set[str],
    above: tuple[float, float],
    size: float,
) -> None:
    """Write the lines of a title and what is on the layers of these names above a place."""
    texts = [*lines, *(f"Layer {one}: {LAYERS[one][1]}." for one in LAYERS if one in named)]
    folded = [line for text in texts for line in wrap(text, WRAP, subsequent_indent="    ")]
    x, top = above[0], above[1] + 2 * size * (len(folded) + 1)
    for n, line in enumerate(folded):
        _text(space, line, (x, top - 2 * size * n), size)


def _text(space: Modelspace, text: str, place: tuple[float, float], size: float) -> None:
    shown = space.add_text(text, height=size, dxfattribs={"layer": TEXT})
    shown.set_placement(place)


def _bytes(drawing: Drawing) -> bytes:
    stream = StringIO()
    with _without_clock():
        drawing.write(stream)
    return stream.getvalue().encode("utf-8")


# sketches

SIZE = 300.0
"""Width of a sketch [px]."""

FILLS = {"liner": "#e3c9a8", "copper": "#c98f5a", "jacket": "#bfc4c9", "slot": "#ffffff"}


def sketch(ring: Ring, jacket: str) -> dict[str, Any]:
    """Return one pitch of a section to a scale of its own: size, polygons [px] and caption."""
    radii = {name: radius * MM for name, radius in ring.radii.items()}
    inside, floor, blank = (radii[name] for name in (HOT_WALL, FLOOR, BLANK))
    outside, half, side = max(radii.values()), np.pi / ring.stretch.count, ring.width * MM / 2
    scale = min(0.45 * SIZE / (outside * np.sin(half)), SIZE / (outside - inside))
    turn, polygons, below = np.linspace(-half, half, 25), [], inside
    for name, top in (("liner", BLANK), ("copper", "copper"), ("jacket", "jacket")):
        if top in radii:
            arcs = [(radii[top], turn), (below, turn[::-1])]
            points = [(r * np.sin(a), r * np.cos(a)) for r, angles in arcs for a in angles]
            polygons.append((points, name, 0.7))
            below = radii[top]
    edge = np.sqrt(blank**2 - side**2)
    polygons.append(([(-side, floor), (side, floor), (side, edge), (-side, edge)], "slot", 1))
    caption = page_text(
        "sketch",
        ring=ring,
        x=ring.x * MM,
        radii=radii,
        width=2 * side,
        depth=blank - floor,
        wall=floor - inside,
        land=2 * np.pi * floor / ring.stretch.count - 2 * side,
        copper=f"copper to {radii['copper']:.3f}, " if "copper" in radii else "",
        jacket=jacket,
    )
    return {
        "size": (SIZE, (outside - inside * np.cos(half)) * scale + 20),
        "polygons": [
            (
                [(SIZE / 2 + x * scale, 10 + (outside - r) * scale) for x, r in points],
                FILLS[fill],
                w,
            )
            for points, fill, w in polygons
        ],
        "caption": caption,
    }

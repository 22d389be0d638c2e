"""Drawings for lathe and mill as DXF, and sketches of one pitch as SVG; alone knows ezdxf."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from io import StringIO
from textwrap import wrap
from typing import Any

import numpy as np

from regen.shop.drawings import sheets
from regen.shop.drawings.outlines import Curve
from regen.shop.drawings.stretches import BLANK, FLOOR, HOT_WALL, Ring
from regen.shop.traveller import LAYERS, page_text

Place = tuple[float, float]

MM = 1e3
WRAP = 100
"""Letters of a line of the title."""

VERSION = "R2000"
MILLIMETRES = 4
"""Of $INSUNITS."""

TEXT, DIMENSIONS, AXIS, DISCS = "TEXT", "DIMENSIONS", "CENTRE_LINE", "CUTTER_AT_ITS_ENDS"
OTHER = 8
"""Colour index of a layer without one of its own."""


class _Drawing:
    """A drawing in millimetres with the layers of some names, its texts of a size [mm]."""

    def __init__(self, names: set[str], size: float) -> None:
        self.names, self.size = names, size
        with _without_clock() as ezdxf:
            self.drawing = ezdxf.new(VERSION, setup=["linetypes", "styles"])
        units = {"$INSUNITS": MILLIMETRES, "$MEASUREMENT": 1, "$LUNITS": 2}
        for name, value in units.items():
            self.drawing.header[name] = value
        for name in sorted({*names, TEXT, DIMENSIONS, AXIS}):
            self.drawing.layers.add(name, color=LAYERS.get(name, (OTHER, ""))[0])
        self.space = self.drawing.modelspace()

    def outline(self, layer: str, vertices: Any, *, close: bool = False) -> None:
        """Draw a line through vertices, each with x, y and bulge."""
        self.space.add_lwpolyline(vertices, "xyb", close=close, dxfattribs={"layer": layer})

    def circle(self, layer: str, centre: Place, radius: float) -> None:
        """Draw a circle."""
        self.space.add_circle(centre, radius, dxfattribs={"layer": layer})

    def axis(self, one: Place, other: Place) -> None:
        """Draw a centre line."""
        self.space.add_line(one, other, dxfattribs={"layer": AXIS, "linetype": "CENTER"})

    def dimension(self, ends: Sequence[Place], base: Place, angle: float, text: str = "<>") -> None:
        """Dimension the distance of two places along an angle [deg]."""
        size, layer = self.size, {"layer": DIMENSIONS}
        style: dict[str, Any] = {"dimtxt": size, "dimasz": size * 0.7, "dimdec": 3}
        style |= {"dimexe": size / 2, "dimexo": size / 2, "dimgap": size / 3, "dimtad": 1}
        style |= {"dimscale": 1.0, "dimzin": 0, "dimdsep": ord("."), "dimlfac": 1.0}
        more: dict[str, Any] = {"angle": angle, "text": text, "override": style}
        self.space.add_linear_dim(base, *ends, **more, dxfattribs=layer).render()

    def text(self, text: str, place: Place) -> None:
        """Write a line."""
        shown = self.space.add_text(text, height=self.size, dxfattribs={"layer": TEXT})
        shown.set_placement(place)

    def titled(self, lines: Sequence[str], x: float, above: float) -> bytes:
        """Write a title and what is on the layers above a height; return the drawing as DXF."""
        of_layers = (f"Layer {n}: {text}." for n, (_, text) in LAYERS.items() if n in self.names)
        texts = [wrap(one, WRAP, subsequent_indent="    ") for one in (*lines, *of_layers)]
        folded = [line for text in texts for line in text]
        top, stream = above + 2 * self.size * (len(folded) + 1), StringIO()
        for n, line in enumerate(folded):
            self.text(line, (x, top - 2 * self.size * n))
        with _without_clock():
            self.drawing.write(stream)
        return stream.getvalue().encode("utf-8")


def profile(
    curves: Sequence[tuple[str, Curve]], lines: Sequence[str], tools: Sequence[sheets.Tool] = ()
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
    hot = next(curve for name, curve in curves if name == sheets.CONTOUR)
    low, high = (float(x) for x in hot.x[[0, -1]] * MM)
    over, size = 0.04 * (high - low), 0.012 * (high - low)
    drawing = _Drawing({name for name, _ in curves} | ({DISCS} if discs else set()), size)
    for name, curve in curves:
        drawing.outline(name, np.column_stack((curve.x * MM, curve.r * MM, curve.bulge)))
    for x, r, radius in discs:
        drawing.circle(DISCS, (x * MM, r * MM), radius * MM)
    drawing.axis((low - over, 0), (high + over, 0))
    face, exit_ = (low, hot.r[0] * MM), (high, hot.r[-1] * MM)
    throat = (0.0, float(np.interp(0.0, hot.x, hot.r)) * MM)
    drawing.dimension((face, throat), (0.0, -4 * size), 0.0)
    drawing.dimension((face, exit_), (0.0, -8 * size), 0.0)
    drawing.dimension(((0.0, 0.0), throat), (0.0, 0.0), 90.0, "R <>")
    drawing.dimension(((low, 0.0), face), (low - 3 * size, 0.0), 90.0, "R <>")
    top = max(curve.r.max() for _, curve in curves) * MM
    return drawing.titled(lines, low, max([top, *((r + radius) * MM for _, r, radius in discs)]))


def slot_section(rings: Sequence[Ring], lines: Sequence[str]) -> bytes:
    """Return sections normal to the axis as DXF in mm, whole rings side by side, full size."""
    apart = 2.6 * max(max(ring.radii.values()) for ring in rings) * MM
    drawing = _Drawing({"LINER", "SLOTS", "COPPER", "JACKET"}, 0.018 * apart)
    for number, ring in enumerate(rings):
        _ring(drawing, ring, number * apart)
    return drawing.titled(lines, -apart / 2, apart / 2)


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


def _ring(drawing: _Drawing, ring: Ring, centre: float) -> None:
    """Draw one section about (centre, 0)."""
    radii = {name: radius * MM for name, radius in ring.radii.items()}
    layers, count, size = {HOT_WALL: "LINER", BLANK: "LINER"}, ring.stretch.count, drawing.size
    for name, radius in radii.items():
        if name != FLOOR:
            layer = layers.get(name, "COPPER" if "copper" in name else "JACKET")
            drawing.circle(layer, (centre, 0), radius)
    for k in range(count):
        points, bulge = slot_outline(ring, -2 * np.pi * k / count)
        corners = [(x + centre, y, b) for (x, y), b in zip(points, bulge, strict=True)]
        drawing.outline("SLOTS", corners, close=True)
    reach = max(radii.values()) + 2 * size
    for along, across in ((reach, 0.0), (0.0, reach)):
        drawing.axis((centre - along, -across), (centre + along, across))
    lines = [
        f"{ring.name.upper()}, x = {ring.x * MM:.4f} from throat",
        f"{count} slots, index {360 / count:.6f} deg, slot 1 at top, clockwise",
        f"width {ring.width * MM:.3f}, floor R {radii[FLOOR]:.4f}, top R {radii[BLANK]:.4f}",
        f"hot wall R {radii[HOT_WALL]:.4f}",
    ]
    for n, line in enumerate(lines):
        drawing.text(line, (centre - reach, -reach - 2 * size * (n + 1)))
    drawing.text("1", (centre - size / 3, reach + size / 2))


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

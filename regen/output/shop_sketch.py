"""Sketches of one pitch for the shop's page, as SVG."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import numpy as np

from regen.output.shop_table import MM
from regen.shop.drawings.drawing import BLANK, FLOOR, HOT_WALL, Ring

SIZE = 300.0
"""Width of a sketch [px]."""

FILLS = {"liner": "#e3c9a8", "copper": "#c98f5a", "jacket": "#bfc4c9", "slot": "#ffffff"}


def sketches(rings: Sequence[Ring], jacket: str) -> str:
    """Return a sketch of one pitch of each section, side by side, each to a scale of its own.

    Parameters
    ----------
    rings : sequence of Ring
        Sections.
    jacket : str
        Metal of the jacket.

    Returns
    -------
    str
        SVG elements in figures; numbers and names of the program alone, no text of the case.
    """
    return "".join(_figure(ring, jacket) for ring in rings)


def _figure(ring: Ring, jacket: str) -> str:
    radii = {name: radius * MM for name, radius in ring.radii.items()}
    outside, inside = max(radii.values()), radii[HOT_WALL]
    half = np.pi / ring.stretch.count
    scale = min(0.5 * SIZE / (outside * np.sin(half) + 1e-9), SIZE / (outside - inside))
    scale = min(scale, 0.45 * SIZE / (outside * np.sin(half)))
    height = (outside - inside * np.cos(half)) * scale + 20
    parts = []
    layers = [("liner", inside, radii[BLANK])]
    below = radii[BLANK]
    for name in ("copper", "jacket"):
        if name in radii:
            layers.append((name, below, radii[name]))
            below = radii[name]
    for name, low, high in layers:
        parts.append(_sector(low, high, half, scale, outside, FILLS[name]))
    width, floor = ring.width * MM, radii[FLOOR]
    top = np.sqrt(radii[BLANK] ** 2 - (width / 2) ** 2)
    corners = [(-width / 2, floor), (width / 2, floor), (width / 2, top), (-width / 2, top)]
    at = " ".join(_point(x, r, scale, outside) for x, r in corners)
    parts.append(f'<polygon points="{at}" fill="{FILLS["slot"]}" stroke="#1a1a1a"/>')
    depth, wall = radii[BLANK] - floor, floor - inside
    pitch = 2 * np.pi * floor / ring.stretch.count
    said = [
        f"slot {width:.3f} wide at the floor, {depth:.3f} deep",
        f"wall {wall:.3f}; land {pitch - width:.3f} at the floor",
        f"radii: hot wall {inside:.3f}, floor {floor:.3f}, blank {radii[BLANK]:.3f}",
    ]
    if "copper" in radii:
        said.append(f"copper to {radii['copper']:.3f}, jacket to {radii['jacket']:.3f} finished")
    else:
        said.append(f"jacket to {radii['jacket']:.3f} finished")
    caption = (
        f"{ring.name}, plane normal to the axis at x = {ring.x * MM:.3f}; "
        f"{'; '.join(said)}. Inside: liner; outside: {escape(jacket)}."
    )
    box = f"0 0 {SIZE:.0f} {height:.0f}"
    return (
        f'<figure><svg viewBox="{box}" role="img">{"".join(parts)}</svg>'
        f"<figcaption>{caption}</figcaption></figure>"
    )


def _point(x: float, r: float, scale: float, outside: float) -> str:
    return f"{SIZE / 2 + x * scale:.1f},{10 + (outside - r) * scale:.1f}"


def _sector(low: float, high: float, half: float, scale: float, outside: float, fill: str) -> str:
    """Return one layer of a pitch, its arcs as short lines."""
    turn = np.linspace(-half, half, 25)
    ends = [(high * np.sin(a), high * np.cos(a)) for a in turn]
    ends += [(low * np.sin(a), low * np.cos(a)) for a in turn[::-1]]
    at = " ".join(_point(x, r, scale, outside) for x, r in ends)
    return f'<polygon points="{at}" fill="{fill}" stroke="#1a1a1a" stroke-width="0.7"/>'

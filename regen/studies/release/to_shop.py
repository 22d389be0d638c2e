"""What goes to the shop: the design solved as its cutters leave it, its drawings, its plating."""

from __future__ import annotations

from dataclasses import dataclass, replace

from regen.checks.review import review
from regen.design import Design
from regen.shop.drawings.sheets import ShopSet, shop_set
from regen.shop.plating.plan import PlatingPlan, plan_plating
from regen.shop.plating.values import values_of
from regen.solver.prepare import Progress
from regen.studies.release.as_machined import AtWidth, Machined, at_cutter_widths, machine
from regen.studies.release.tolerances import Tolerances, tolerances


@dataclass(frozen=True)
class ToShop:
    """A design on its way to the shop.

    ``machined`` has its cutters and what they change; with problems nothing is ``drawn``.
    ``at_widths`` is the design at each width of the shop's cutters, empty where none is near;
    ``tolerances`` what the shop's tolerances do to the design as machined; ``plated`` is None where
    the jacket is not plated.
    """

    machined: Machined
    at_widths: tuple[AtWidth, ...] = ()
    tolerances: Tolerances | None = None
    drawn: ShopSet | None = None
    plated: PlatingPlan | None = None

    @property
    def released(self) -> bool:
        """True where no limit of the calculation or of the plating plan is broken or unknown."""
        if self.drawn is None or not self.drawn.result.nominal_kept:
            return False
        return self.plated is None or not self.plated.broken


def to_shop(design: Design, *, case_hash: str = "", progress: Progress | None = None) -> ToShop:
    """Solve a design as its cutters leave it, and make what the shop needs.

    Nothing is drawn where the cutters cannot make it. ``case_hash`` is printed on every page.
    Raises ``MarchError`` if the design as drawn is not solved, ``PlanError`` if what is given
    makes no plating plan, ``ValueError`` if the geometry is impossible or a material or property is
    not known.
    """
    if design.closeout.route == "printed":  # nothing is machined
        design = replace(design, shop=replace(design.shop, cutters=()))
    electroformed = design.closeout.route == "electroformed"
    if electroformed:
        values_of(design)  # refused before anything is solved
    machined = machine(design, progress)
    at_widths = at_cutter_widths(design)
    if machined.plan.problems or machined.stopped:
        return ToShop(machined, at_widths)
    result = machined.as_machined or review(design, progress=progress)
    made = machined.design or design
    plated = plan_plating(made, result) if electroformed else None
    drawn = shop_set(machined.plan, result, plated, case_hash)
    return ToShop(machined, at_widths, tolerances(made), drawn, plated)

"""Correlations that stand for the same thing, compared where all of them apply."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from regen.checks.flags import inputs
from regen.checks.stations import hot_gas
from regen.design import Profile
from regen.physics import arrays as A
from regen.physics.friction import jones_factor
from regen.physics.registry import CORRELATIONS
from tests.property.trends import box
from tests.property.trends.causes import UNEXPLAINED
from tests.property.trends.forms import nusselt, state
from tests.property.trends.runs import Case, with_flow, with_models
from tests.property.trends.trends import LITTLE_LESS, Outcome, Trend, Violation, flux_at

EVERY = 6
"""Every how many stations forms are compared."""

GENERIC = ("dittus_boelter", "gnielinski", "sieder_tate", "petukhov_kirillov_popov")
HYDROGEN = ("taylor", "mccarthy_wolf", "hess_kunz", "miller")
DENSE = (
    *("krasnoshchekov_protopopov", "jackson", "petukhov1983"),
    *("bishop", "mokry", "swenson", "spencer_rousar"),
)
KEROSENE = ("hines_wolf", "utrc_kerosene", "nasa_kerosene", "textbook_kerosene")

X_TABLED, P_TABLED = 40.0, (100e5, 200e5)
"""Diameters from the inlet, and pressures [Pa], at which hydrogen's forms were tabled."""

GENERIC_SPREAD, HOT_DODECANE_SPREAD = 1.5, 1.75
HYDROGEN_SPREAD = 1.9
DENSE_SPREAD = 5.9
"""Largest over smallest number at one state, as tabled for some thirty states of seven coolants
(computed, by another program): 1.49 for general forms, 1.71 for them on hot n-dodecane, 1.89 for
those of hydrogen, 5.8 for those of dense fluids; rounded up."""

GAS_SPREAD = 1.8
"""The same for gas-side flux at the throat: 1.45, 1.69 and 1.77 for hydrogen at 100 bar, methane
at 100 bar and kerosene at 70 bar."""

FRICTION_SPREAD = 1.02
"""Haaland's form is stated as within 2 % of Colebrook's."""

GAS_MEMBERS = ("bartz", "bartz_enthalpy", "pipe_film", "reference_enthalpy", "integral_layer")
T_TABLED = 800.0
"""Wall temperature of those tables [K]."""

LAYER_LENGTH = 2.1
"""Throat diameters. Tabled flux of the integral form over that of the pipe form with 0.026 at the
reference enthalpy, 79.3/91.1 at Pr = 0.645, is 1.104 Pr^0.2 (x/D)^-0.2 by their constants."""

RICH = 0.6
"""Mixture ratio over the stoichiometric one at which gases hold few radicals."""


def number(name: str, at: dict[str, float]) -> float | None:
    """Return a form's Nusselt number on the bulk's conductivity, None outside its range.

    Hydrogen's forms were tabled at one distance from the inlet, in and out of their narrow ranges.
    """
    form = CORRELATIONS[name]
    if name in HYDROGEN:
        at = {**at, "x_D": X_TABLED}
    elif not form.in_range(**{key: value for key, value in at.items() if key in form.ranges}):
        return None
    return nusselt(form, at)


def _coolant(case: Case, title: str, forms: tuple[str, ...], limit: float | None) -> Outcome:
    """Compare every pair of forms at every few stations where both apply."""
    run, fluid = case.run, case.design.coolant.fluid
    given = inputs(run.prepared, run.marched, np.arange(run.x.size))
    known = [n for n in forms if n in CORRELATIONS and CORRELATIONS[n].fits(fluid)]
    found = Outcome()
    worst: tuple[float, str, int, dict[str, float]] = (1.0, "", 0, {})
    for i in range(0, run.x.size, EVERY):
        at = state(run, i, given)
        if at["Re"] < 2300.0 or (forms is DENSE and at["p_r"] < 1.0):
            continue
        if forms is HYDROGEN and not (at["T_ratio"] > 2.0 and P_TABLED[0] < at["p"] < P_TABLED[1]):
            continue
        values = {name: value for name in known if (value := number(name, at)) is not None}
        if len(values) < 2:
            continue
        most, least = max(values, key=values.__getitem__), min(values, key=values.__getitem__)
        ratio = values[most] / values[least]
        if ratio > worst[0]:
            worst = (ratio, f"{most} over {least}", i, at)
        found.value = max(found.value or 1.0, ratio)
    if found.value is None:
        return Outcome(stopped="no state in the ranges of two")
    if limit is not None and worst[0] > limit:
        ratio, pair, i, at = worst
        where = f"{pair} at x = {run.x[i] * 1e3:.0f} mm"
        mild = _spread({name: v for name in known if (v := number(name, _no_change(at)))})
        cause = "wall factor" if mild <= limit else UNEXPLAINED
        evidence = (
            f"viscosity of bulk over wall {at['mu_b'] / at['mu_w']:.1f}, Prandtl number "
            f"{at['Pr'] / at['Pr_w']:.1f}; without change of properties {mild:.2f}"
        )
        found.violations.append(Violation(title, case.draw, where, f"{ratio:.2f}", cause, evidence))
    return found


def _no_change(at: dict[str, float]) -> dict[str, float]:
    """Return the state with the wall's properties those of the bulk."""
    same = {f"{name}_w": at[f"{name}_b"] for name in ("mu", "k", "rho")}
    film = {"Re_f": at["Re"], "Pr_f": at["Pr"], "k_f": at["k_b"]}
    return {**at, **same, **film, "cp_bar": at["cp_b"], "Pr_w": at["Pr"]}


def generic(case: Case) -> Outcome:
    hot = case.design.coolant.fluid == "n-dodecane"
    return _coolant(case, "general forms", GENERIC, HOT_DODECANE_SPREAD if hot else GENERIC_SPREAD)


def hydrogen(case: Case) -> Outcome:
    return _coolant(case, "hydrogen forms", HYDROGEN, HYDROGEN_SPREAD)


def dense(case: Case) -> Outcome:
    return _coolant(case, "forms for dense fluids", DENSE, DENSE_SPREAD)


def kerosene(case: Case) -> Outcome:
    return _coolant(case, "kerosene forms", KEROSENE, None)


def fluxes(case: Case) -> dict[str, float]:
    """Return the throat's flux of each gas-side member on a wall as hot as tabled [W/m2].

    A deposit brings the surface there where the wall is colder.
    """
    found = {}
    T = max(T_TABLED, float(case.run.column(A.O_T_SURFACE)[case.run.throat]))
    for name in GAS_MEMBERS:
        design = with_models(case.design, gas_side=name)
        run, cover = case.with_slots(design), 0.0
        for _ in range(3):
            i = run.throat
            cover += (T - run.column(A.O_T_SURFACE)[i]) / run.column(A.O_Q)[i]
            covered = Profile.constant(max(cover, 0.0))
            design = with_models(design, deposit_resistance=covered)
            run = case.with_slots(design)
        found[name] = flux_at(run, case.with_slots(with_flow(design, LITTLE_LESS)), T)
    return found


def _spread(values: dict[str, float]) -> float:
    return max(values.values()) / min(values.values())


def gas_side(case: Case) -> Outcome:
    title = "gas-side members"
    plain = Case(case.draw, case.solve(with_models(case.design, radiation="off")))
    values = fluxes(plain)
    ratio = _spread(values)
    found = Outcome(value=ratio)
    if ratio <= GAS_SPREAD:
        return found
    most, least = max(values, key=values.__getitem__), min(values, key=values.__getitem__)
    cause, evidence = UNEXPLAINED, ""
    others = {name: value for name, value in values.items() if name != "integral_layer"}
    core, _ = hot_gas(plain.run.prepared, plain.run.marched)
    i = plain.run.throat
    length = core[i, A.G_X_EFF] / (2.0 * plain.run.prepared.passage.r[i])
    shorter = values["integral_layer"] * (length / LAYER_LENGTH) ** 0.2
    if least == "integral_layer" and _spread(others) <= GAS_SPREAD:
        brought = _spread({**others, "integral_layer": shorter})
        evidence = (
            f"layer {length:.1f} throat diameters long; at {LAYER_LENGTH:g} they span {brought:.2f}"
        )
        if brought <= GAS_SPREAD and length > LAYER_LENGTH:
            cause = "long boundary layer"
    else:
        richer = _spread(_richer(plain))
        evidence = f"at {RICH:g} of the stoichiometric ratio they span {richer:.2f}"
        if richer <= GAS_SPREAD:
            cause = "dissociation"
    found.violations.append(
        Violation(title, case.draw, f"{most} over {least}", f"{ratio:.2f}", cause, evidence)
    )
    return found


def _richer(case: Case) -> dict[str, float]:
    """Return the members' fluxes, but for the integral layer's, with a richer gas."""
    pair = case.design.propellants
    ratio = RICH * box.STOICHIOMETRIC[pair.oxidizer][pair.fuel]
    design = replace(case.design, propellants=replace(pair, mixture_ratio=ratio))
    values = fluxes(Case(case.draw, case.solve(design)))
    values.pop("integral_layer")
    return values


def friction(case: Case) -> Outcome:
    run = case.run
    given = inputs(run.prepared, run.marched, np.arange(run.x.size))
    passage = run.prepared.passage
    sides = np.sort([passage.width, passage.depth], axis=0)
    laws = [CORRELATIONS[name] for name in ("haaland", "colebrook")]
    ratios = []
    for i in range(0, run.x.size, EVERY):
        Re = jones_factor(sides[0, i] / sides[1, i]) * given["Re"][i]
        at = {"Re": Re, "roughness": float(given["roughness"][i])}
        if all(law.in_range(**at) for law in laws):
            a, b = (law.function(**at) for law in laws)
            ratios.append(max(a / b, b / a))
    found = Outcome(value=max(ratios, default=None))
    if found.value is not None and found.value > FRICTION_SPREAD:
        found.violations.append(
            Violation("friction", case.draw, "", f"{found.value:.4f}", UNEXPLAINED, "")
        )
    return found


def _is(*fluids: str):
    return lambda case: case.design.coolant.fluid in fluids


SIBLINGS: tuple[Trend, ...] = (
    Trend(
        "general forms",
        "dittus_boelter, gnielinski, sieder_tate, petukhov_kirillov_popov at one state",
        f"largest over smallest at most {GENERIC_SPREAD:g}, {HOT_DODECANE_SPREAD:g} for n-dodecane",
        "the spread tabled for some thirty states, rounded up",
        "largest over smallest",
        generic,
        lambda case: case.design.coolant.fluid != "hydrogen",
    ),
    Trend(
        "hydrogen forms",
        "taylor, mccarthy_wolf, hess_kunz, miller at one state of 100 to 200 bar, wall over "
        "twice the bulk, 40 diameters from the inlet, as tabled",
        f"largest over smallest at most {HYDROGEN_SPREAD:g}",
        "the same",
        "largest over smallest",
        hydrogen,
        _is("hydrogen"),
    ),
    Trend(
        "forms for dense fluids",
        ", ".join(DENSE) + " at one state above the critical pressure",
        f"largest over smallest at most {DENSE_SPREAD:g}",
        "the same",
        "largest over smallest",
        dense,
        _is("methane", "oxygen", "ethanol", "propane"),
    ),
    Trend(
        "kerosene forms",
        ", ".join(KEROSENE) + " at one state",
        "no spread is documented: shown, not judged",
        "none",
        "largest over smallest",
        kerosene,
        _is("n-dodecane"),
    ),
    Trend(
        "gas-side members",
        ", ".join(GAS_MEMBERS) + f" at the throat on a surface of {T_TABLED:g} K, no radiation",
        f"largest over smallest flux at most {GAS_SPREAD:g}",
        "the largest of the spreads tabled at 70 and 100 bar, rounded up",
        "largest over smallest",
        gas_side,
    ),
    Trend(
        "friction",
        "haaland and colebrook at one state",
        "within 2 %",
        "what the source of the explicit form states",
        "largest over smallest",
        friction,
    ),
)

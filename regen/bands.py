"""Which correlations apply to which coolant and regime, and why others are left out.

The rule is data: the report prints it, and removing a member from the registry removes the edge
it made.
"""

from __future__ import annotations

from dataclasses import dataclass

from regen.physics._dispatch import BOILING, COOLANT_SIDE, FRICTION, GAS_SIDE

HYDROCARBON_LIQUIDS = ("n-dodecane",)


@dataclass(frozen=True, slots=True)
class Choice:
    """Members of one role, the default first, and the reason for each one left out."""

    members: tuple[str, ...]
    excluded: dict[str, str]


def _choose(members: tuple[str, ...], known: dict[str, int], reasons: dict[str, str]) -> Choice:
    left_out = {
        name: reasons.get(name, "not meant for this fluid and regime")
        for name in known
        if name not in members
    }
    return Choice(members, left_out)


def gas_side() -> Choice:
    """Return the gas-side members: all of them apply to combustion gas in a chamber."""
    return _choose(
        ("bartz", "bartz_enthalpy", "pipe_film", "reference_enthalpy"), dict(GAS_SIDE), {}
    )


def friction() -> Choice:
    """Return the friction members."""
    return _choose(("colebrook", "haaland"), dict(FRICTION), {})


def coolant_side(fluid: str, supercritical: bool) -> Choice:
    """Return the coolant-side members for a fluid above or below its critical pressure.

    Parameters
    ----------
    fluid : str
        Coolant name.
    supercritical : bool
        True if the coolant stays above its critical pressure.

    Returns
    -------
    Choice
        Members, the default first, and why the others are left out.
    """
    constant_property = "made for a small difference between wall and bulk; optimistic by 2 to 4"
    hydrogen_only = "fitted to hydrogen; film and temperature-ratio forms mislead elsewhere"
    if fluid == "hydrogen":
        reasons = {
            name: "generic form: optimistic by 2 to 4 where the wall is over twice the bulk"
            for name in COOLANT_SIDE
        }
        return _choose(("taylor", "mccarthy_wolf"), dict(COOLANT_SIDE), reasons)
    hydrogen_reasons = {"taylor": hydrogen_only, "mccarthy_wolf": hydrogen_only}
    if supercritical and fluid not in HYDROCARBON_LIQUIDS:
        # oxygen: the form made for it, Spencer-Rousar's, gives about what Jackson's does there,
        # and half of the others
        first = ("krasnoshchekov_protopopov", "jackson")
        return _choose(
            (*(first[::-1] if fluid == "oxygen" else first), "gnielinski"),
            dict(COOLANT_SIDE),
            {
                **hydrogen_reasons,
                "dittus_boelter": constant_property,
                "sieder_tate": "viscosity ratio alone does not describe the pseudo-critical range",
            },
        )
    water_forms = "fitted to supercritical water and carbon dioxide"
    return _choose(
        ("gnielinski", "sieder_tate", "dittus_boelter"),
        dict(COOLANT_SIDE),
        {**hydrogen_reasons, "krasnoshchekov_protopopov": water_forms, "jackson": water_forms},
    )


def boiling(fluid: str) -> Choice:
    """Return the nucleate-boiling members: the water form for water, the general one else."""
    if fluid == "water":
        return _choose(("thom", "cooper"), dict(BOILING), {})
    return _choose(("cooper",), dict(BOILING), {"thom": "fitted to water"})

"""How a result's numbers are said: labels, units and rounding, once for terminal and report."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from regen.design import Design
from regen.result import (
    CircuitResult,
    Column,
    Finding,
    Margin,
    Note,
    Result,
    SectionCheck,
    Verdict,
)

COMPARED = (
    "compared with twelve measured walls of a heated hydrogen tube and two of a milled "
    "hydrogen-cooled cylinder (annular throat, coolant state assumed), never with a whole chamber "
    "from inlet to outlet"
)
"""What the program's walls have been held against, said in these words everywhere."""

VERDICTS: dict[Verdict, str] = {
    "pass": "every limit is kept, by the nominal channel, over the band and in the worst channel",
    "open": "no limit is shown to be broken, but one or more are not shown to be kept",
    "at risk": "the nominal channel keeps the limit; a band edge or the worst channel breaks it",
    "fail": "the nominal channel breaks a limit",
}

SECTION_HEADINGS = (
    ("place", ""),
    ("x", "mm"),
    ("closed form", "K"),
    ("finite elements", "K"),
    ("difference", "K"),
    ("of wall less coolant", "%"),
    ("heat flux", "%"),
    ("mesh", "K"),
)
"""Columns of the wall check and their units; the last is what a mesh half as fine changes."""

SEVERITY: tuple[Verdict, ...] = ("fail", "at risk", "open")

CAUTIONS = (
    "High pressure: channels, manifolds and the chamber store enough energy to kill. Prove every "
    "part hydrostatically, behind a barrier, before gas or fire.",
    "Cryogens burn skin, embrittle unsuited metals, and burst what they are trapped in: vent every "
    "volume that can be closed.",
    "Oxidisers: oxygen systems need materials, cleaning and valves made for oxygen; residues of "
    "wax, oil or solvent in a passage can ignite.",
    "Hot fire: remote operation, redlines that shut down, and nobody in line of sight.",
    "Plating baths and solvents are toxic, corrosive or flammable: ventilation, protection, "
    "neutralisation and waste disposal by the rules of the place.",
    "These results support, and never replace, local codes, hydrostatic proof and the judgement "
    "of licensed engineers.",
)


CIRCUIT_HEADINGS = (
    ("circuit", ""),
    ("x", "mm"),
    ("flow", "kg/s"),
    ("share", ""),
    ("heat", "kW"),
    ("rise", "K"),
    ("drop", "bar"),
    ("hot wall", "K"),
    ("at x", "mm"),
)
"""Headings and units of the table of circuits."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """One summary quantity: its key, label, unit, factor from SI and rounding in that unit."""

    key: str
    label: str
    unit: str
    factor: float = 1.0
    step: float = 1.0

    def say(self, value: float | None) -> str:
        """Return a value [SI] in this quantity's unit and rounding, a dash if there is none."""
        return "-" if value is None else rounded(value * self.factor, self.step)


HEADLINE = (
    Quantity("T_wall_hot_max_K", "peak hot-wall temperature", "K", step=10),
    Quantity("T_wall_cold_max_K", "peak channel-root temperature", "K", step=10),
    Quantity("q_max_W_m2", "peak heat flux", "MW/m2", 1e-6, 0.1),
    Quantity("coolant_temperature_out_K", "coolant outlet temperature", "K", step=10),
    Quantity("coolant_pressure_drop_Pa", "coolant pressure drop", "bar", 1e-5, 0.1),
    Quantity("coolant_pressure_out_Pa", "coolant outlet pressure", "bar", 1e-5, 0.1),
)

OPERATION = (
    Quantity("heat_total_W", "heat into the coolant", "kW", 1e-3, 1),
    Quantity("coolant_mass_flow_kg_s", "coolant mass flow", "kg/s", step=0.001),
    Quantity("gas_mass_flow_kg_s", "hot-gas mass flow", "kg/s", step=0.001),
    Quantity("chamber_temperature_K", "chamber temperature, efficiency counted", "K", step=10),
    Quantity("characteristic_velocity_m_s", "characteristic velocity", "m/s", step=1),
    Quantity("throat_diameter_m", "throat diameter", "mm", 1e3, 0.01),
)


def rounded(value: float, step: float) -> str:
    """Return a value rounded to a step, with the decimals of the step.

    Parameters
    ----------
    value, step : float
        Value and rounding step [same unit].

    Returns
    -------
    str
        Plain decimal number.
    """
    decimals = max(0, len(f"{step:.10f}".rstrip("0").partition(".")[2]))
    return f"{round(value / step) * step:.{decimals}f}"


def percent(margin: float | None) -> str:
    """Return a margin [-] in words: percent of the limit, or that it was not evaluated."""
    return "not evaluated" if margin is None else f"{_percent(margin):+} %"


def column(margin: Margin, name: str) -> str:
    """Return one column of a row: its margin in per cent, or what is known without a number.

    An indicative one is starred; "?" is unknown, "-" was not asked for.
    """
    found = margin.columns.get(name)
    if found is None or not found.asked:
        return "-"
    if found.state == "unknown":
        return "?"
    text = found.state if found.margin is None else percent(found.margin)
    return f"{text}*" if found.indicative else text


COLUMN_MARKS = "*: indicative, by a floor or a correlation not made for this fluid; ?: not known"


def counts(result: Result) -> str:
    """Return how many rows that decide have each verdict, from worst to best."""
    judged = [m.verdict for m in result.margins if m.verdict is not None]
    of = [f"{judged.count(v)} {v}" for v in (*SEVERITY, "pass") if v in judged]
    return f"{', '.join(of)} of {len(judged)} limits"


def _percent(margin: float) -> float:
    """Return a margin in percent, rounded, but never so far that a broken limit looks kept."""
    value = 100.0 * margin
    if abs(value) >= 1.0 or value == 0.0:
        return round(value)
    return round(value, 1) or math.copysign(0.1, value)


def short(margin: Margin) -> str:
    """Return a margin's name as it is spoken."""
    return spoken(margin.name)


def spoken(name: str) -> str:
    """Return the name of a limit as it is spoken."""
    return name.replace("_", " ").replace("mach", "Mach number")


def _unit(margin: Margin) -> tuple[str, float, float]:
    """Return the unit an engineer reads, the factor from SI and the step to round to."""
    found: tuple[str, float, float] = {
        "K": ("K", 1.0, 1.0),
        "Pa": ("bar", 1e-5, 0.1) if "pressure" in margin.name else ("MPa", 1e-6, 0.1),
        "W/m2": ("MW/m2", 1e-6, 0.01),
        "firings": ("firings", 1.0, 1.0),
        "-": ("", 1.0, 0.01),
        "m": ("mm", 1e3, 0.001),
    }.get(margin.unit, (margin.unit, 1.0, 0.01))
    return found


def limit(margin: Margin) -> str:
    """Return a margin's limit with its unit, in the unit an engineer reads."""
    if margin.limit is None:
        return "not known" if margin.nominal is None else "does not apply"
    unit, factor, step = _unit(margin)
    sense = "at most" if margin.kind == "max" else "at least"
    return f"{sense} {rounded(margin.limit * factor, step)} {unit}".rstrip()


def value(margin: Margin) -> str:
    """Return the nominal value that a limit is held against, temperatures to 10 K."""
    if margin.limit is None or margin.nominal is None:
        return "-"
    unit, factor, step = _unit(margin)
    sign = -1.0 if margin.kind == "max" else 1.0
    found = margin.limit * (1.0 + sign * margin.nominal)
    return f"{rounded(found * factor, 10.0 if unit == 'K' else step)} {unit}".rstrip()


FINDING_UNITS = {
    "Pa": ("MPa", 1e-6),
    "m": ("mm", 1e3),
    "s": ("s", 1.0),
    "K": ("K", 1.0),
    "kg": ("kg", 1.0),
    "N": ("kN", 1e-3),
    "J": ("kJ", 1e-3),
    "W/m2": ("MW/m2", 1e-6),
}
"""Unit an engineer reads and factor from SI, of findings."""

FINE = 1e-5
"""Lengths below are said in micrometres [m]."""


def finding_tables(result: Result) -> list[tuple[str, list[Finding]]]:
    """Return the findings by section, in their order."""
    tables: dict[str, list[Finding]] = {}
    for found in result.findings:
        tables.setdefault(found.section, []).append(found)
    return list(tables.items())


def finding(found: Finding) -> str:
    """Return the value of a finding with its unit, to three figures."""
    if found.value is None:
        return "not assessed"
    if found.unit == "Pa" and "pressure" in found.name:
        unit, factor = "bar", 1e-5
    else:
        unit, factor = FINDING_UNITS.get(found.unit, (found.unit, 1.0))
    if found.unit == "m" and abs(found.value) < FINE:
        unit, factor = "um", 1e6
    value = found.value * factor
    size = math.floor(math.log10(abs(value))) if value and math.isfinite(value) else 0
    text = f"{round(value, 2 - size):.{max(2 - size, 0)}f}" if math.isfinite(value) else "no end"
    return f"{text} {unit}".removesuffix(" -").rstrip()


SECONDARY = ("life_optimistic", "life_optimistic_modified")
"""Findings that are printed smaller: they judge nothing."""


def firings(conservative: float | None, optimistic: float | None) -> str:
    """Return a life for a narrow column, conservative (optimistic) [firings].

    A dash where the conservative one is not known.
    """
    lives = (conservative, optimistic)
    first, second = ("-" if n is None else f"{n:.2g}" if n < 10 else f"{n:.0f}" for n in lives)
    return first if optimistic is None else f"{first} ({second})"


def slots(design: Design) -> str:
    """Return the numbers of slots of a design, as "80", or "60 to 80" where they differ."""
    channels = [c.channels for c in design.circuits] or [design.channels]
    counts = [n for c in channels for n in (c.count, *(n for _, n in c.count_changes))]
    low, high = min(counts), max(counts)
    return f"{low}" if low == high else f"{low} to {high}"


def circuit_row(circuit: CircuitResult) -> tuple[str, ...]:
    """Return one circuit's texts for a table, in the order of ``CIRCUIT_HEADINGS``."""
    return (
        circuit.name,
        f"{circuit.x_from_m * 1e3:.0f} to {circuit.x_to_m * 1e3:.0f}",
        f"{circuit.mass_flow_kg_s:.3f}",
        f"{circuit.flow_share * 100:.0f} %",
        rounded(circuit.heat_W * 1e-3, 0.1),
        rounded(circuit.temperature_rise_K, 1.0),
        rounded(circuit.pressure_drop_Pa * 1e-5, 0.1),
        rounded(circuit.T_wall_hot_max_K, 10.0),
        f"{circuit.x_T_wall_hot_max_m * 1e3:.0f}",
    )


def note(found: Note) -> str:
    """Return a note with what it is about, which its text may leave unsaid."""
    return f"{found.code.replace('-', ' ')}: {found.text}"


def section_row(check: SectionCheck) -> tuple[str, ...]:
    """Return one row of the wall check as text: the texts of ``SECTION_HEADINGS``."""
    return (
        check.place,
        f"{check.x_m * 1e3:.1f}",
        f"{check.T_wall_hot_K:.0f}",
        f"{check.T_wall_hot_fe_K:.0f}",
        f"{check.T_difference_K:+.1f}",
        f"{100.0 * check.T_difference:+.1f}",
        f"{100.0 * check.q_difference:+.1f}",
        f"{check.T_error_K:.2f}",
    )


def standing(result: Result) -> str:
    """Return what chose the nominal correlations and where they stand in the band.

    Parameters
    ----------
    result : Result
        Judged design.

    Returns
    -------
    str
        The note of that code; empty if there is none.
    """
    return next((found.text for found in result.notes if found.code == "basis"), "")


def left_out(result: Result) -> list[tuple[str, str]]:
    """Return what the band leaves out, those with one reason together.

    Parameters
    ----------
    result : Result
        Judged design.

    Returns
    -------
    list of (str, str)
        Names and their reason.
    """
    by_reason: dict[str, list[str]] = {}
    for name, reason in result.excluded.items():
        by_reason.setdefault(reason, []).append(name)
    return [(", ".join(names), reason) for reason, names in by_reason.items()]


def place(x: float | None) -> str:
    """Return an axial position [m] in millimetres, a dash if there is none."""
    return "-" if x is None else f"{x * 1e3:.0f}"


def reasons(result: Result) -> list[str]:
    """Return why the verdict is what it is, in words.

    Parameters
    ----------
    result : Result
        Judged design.

    Returns
    -------
    list of str
        One line for each margin short of a pass, those that decide first; the tightest margin
        if all pass. Margins for information are left out.
    """
    judged = [m for m in result.margins if not m.informative]
    short_of = [m for verdict in SEVERITY for m in judged if m.verdict == verdict]
    if short_of:
        return [_reason(margin) for margin in short_of]
    return [f"tightest: {_reason(margin)}" for margin in sorted(judged, key=_least)[:1]]


def cautions_of_rows(result: Result) -> list[str]:
    """Return what rows that pass rest on, in words; other rows say it with their reason."""
    passed = [m for m in result.margins if m.verdict == "pass" and m.columns["nominal"].caution]
    return [f"{short(margin)}: {margin.columns['nominal'].caution}" for margin in passed]


def _least(margin: Margin) -> float:
    found = (margin.nominal, margin.band_edge, margin.worst_channel)
    return min((value for value in found if value is not None), default=math.inf)


def _reason(margin: Margin) -> str:
    outcomes = "; ".join(
        f"{COLUMN_LABELS[name]} {_outcome(one)}" for name, one in margin.columns.items()
    )
    nominal, *others = margin.columns.values()
    reasons_of_others = [one.why for one in others if one.state != "kept" and one.why]
    whys = dict.fromkeys((nominal.why, *reasons_of_others[:1]))
    text = f"{margin.verdict}: {short(margin)}, {limit(margin)}: {outcomes}"
    text = "; ".join(part for part in (text, *whys, nominal.caution) if part)
    asks = margin.verdict == "open" and margin.closes and margin.closes not in text
    return f"{text}; give {margin.closes}" if asks else text


COLUMN_LABELS = {
    "nominal": "nominal",
    "band_edge": "band edge",
    "worst_channel": "worst channel",
}


def _outcome(found: Column) -> str:
    if found.state == "unknown":
        return "unknown"
    text = "" if found.margin is None else f"{percent(found.margin)} "
    doubt = ", indicative" if found.indicative else ""
    return f"{text}({found.state}{doubt})"


def side_by_side(result: Result, quantity: Quantity) -> tuple[str, str, str, str]:
    """Return nominal, band low, band high and worst channel of one quantity, as text.

    Parameters
    ----------
    result : Result
        Judged design.
    quantity : Quantity
        One of ``HEADLINE``.

    Returns
    -------
    tuple of str
        Four texts; a dash where there is no value, and "or more" where the band is open
        ("or less" for the outlet pressure, which falls as the wall gets hotter) or a corner of
        the worst channel was not solved.
    """
    worst: Mapping[str, float] = result.worst_channel
    band = result.bands.get(quantity.key)
    low, high = (band.min, band.max) if band else (None, None)
    values = result.summary[quantity.key], low, high, worst.get(quantity.key)
    nominal, low_text, high_text, worst_text = (quantity.say(value) for value in values)
    if band and band.open and quantity.key == "coolant_pressure_out_Pa":
        low_text = f"{low_text} or less"
    elif band and band.open:
        high_text += " or more"
    if worst.get("corners_not_solved") and quantity.key in worst:
        worst_text += " or more"
    return nominal, low_text, high_text, worst_text

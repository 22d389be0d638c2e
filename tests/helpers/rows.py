"""Rows of margins made by hand, and the rows of a table as its readers see them."""

import csv
import io

from regen.result import COLUMN_NAMES, Column, Margin

SUMMARY = {
    "T_wall_hot_max_K": 748.3,
    "x_T_wall_hot_max_m": -0.0111,
    "T_wall_cold_max_K": 661.2,
    "q_max_W_m2": 31.44e6,
    "heat_total_W": 712.4e3,
    "coolant_temperature_out_K": 414.0,
    "coolant_pressure_in_Pa": 90.0e5,
    "coolant_pressure_drop_Pa": 19.27e5,
    "coolant_pressure_out_Pa": 70.73e5,
    "coolant_mach_max": 0.123,
    "coolant_mass_flow_kg_s": 0.4738,
    "gas_mass_flow_kg_s": 1.8954,
    "characteristic_velocity_m_s": 1783.4,
    "mass_cooled_kg": 3.456,
}
"""What a solve comes to, no two digits alike."""


def csv_rows(table):
    """Return the rows of a table as its file has them: texts by column."""
    return list(csv.DictReader(io.StringIO(table.csv())))


def shown_rows(table):
    """Return the rows of a table as terminal and page show them: texts by heading."""
    return [dict(zip(table.headings, cells, strict=True)) for cells in table.texts()]


def columns(*margins, indicative=()):
    """Return the columns of a row by their margins; None is unknown, none is not asked for."""
    return {
        name: Column(
            "unknown" if margin is None else "broken" if margin < 0.0 else "kept",
            margin,
            name in indicative,
        )
        for name, margin in zip(COLUMN_NAMES[: len(margins)], margins, strict=True)
    }


def margin(name, *margins, **more):
    """Return a margin on 800 K by those of its columns."""
    given = {"unit": "K", "limit": 800.0, "kind": "max", "x_m": 0.0, "verdict": "pass"}
    given |= {"source": "common_practice"} | more
    return Margin(name, name, columns=columns(*margins), **given)

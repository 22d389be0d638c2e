"""Columns along x of a solved design, for arithmetic, tables and notebooks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from regen.output.table import Table
from regen.quantities import si_of
from regen.result import STATION_COLUMNS, Array


class Stations(Mapping[str, Array]):
    """Columns by name, each an array (station,) in SI, rows by rising x.

    Names are those of stations.csv; the unit is the name's suffix.
    """

    def __init__(self, columns: Mapping[str, Array]) -> None:
        self._columns = columns

    def __getitem__(self, name: str) -> Array:
        return self._columns[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._columns)

    def __len__(self) -> int:
        return len(self._columns)

    def __repr__(self) -> str:
        return f"<Stations: {len(self['x_m'])} rows of {', '.join(self)}>"

    def _repr_html_(self) -> str:
        return str(self.table().__html__())

    def table(self) -> Table:
        """Return all columns as a table."""
        return Table.of_arrays(self._columns)

    def to_dataframe(self) -> Any:
        """Return a pandas DataFrame with x [m] as its index; needs the extra "notebook"."""
        from pandas import DataFrame

        return DataFrame(dict(self._columns)).set_index("x_m")

    def to_xarray(self) -> Any:
        """Return an xarray Dataset over x [m], each variable with its unit and description.

        Needs the extra "notebook".
        """
        from xarray import Dataset

        variables = {
            name: ("x_m", values, {"units": si_of(name), "long_name": STATION_COLUMNS[name]})
            for name, values in self._columns.items()
        }
        return Dataset(
            {n: v for n, v in variables.items() if n != "x_m"}, {"x_m": variables["x_m"]}
        )

"""Where tests find what is not Python."""

from pathlib import Path

CASES = Path(__file__).parents[2] / "cases"
WATER = Path(__file__).with_name("water.toml")

"""Thermal design calculator for regeneratively cooled thrust-chamber walls."""

__version__ = "0.1.0"

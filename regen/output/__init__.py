"""Figures and report of a solved design."""

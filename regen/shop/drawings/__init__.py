"""Drawings of the part for mill and lathe."""

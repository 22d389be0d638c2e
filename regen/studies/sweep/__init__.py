"""Sweeps: plan, parts, workers."""

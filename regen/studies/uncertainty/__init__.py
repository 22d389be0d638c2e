"""Uncertainty: distributions, samples, indices."""

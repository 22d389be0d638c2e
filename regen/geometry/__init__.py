"""Contour, channels along it, circuits through them."""

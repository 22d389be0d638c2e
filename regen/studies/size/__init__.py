"""Sizing of the channels."""

"""Slots as measured."""

"""Operating envelope."""

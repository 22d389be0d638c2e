"""Wall metals by condition, heating, selection."""

"""Many designs laid out, marched and judged together."""

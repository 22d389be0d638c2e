"""Other alloys, processes and jackets."""

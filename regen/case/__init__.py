"""The case file: keys, fields along x, tables, checks across keys."""

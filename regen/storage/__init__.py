"""The cache on disk."""

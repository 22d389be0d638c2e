"""Property adaptors: hot gas, coolants, alloys, and the disk cache they share."""

"""The public library: one function a command, and what each returns."""

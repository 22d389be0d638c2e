"""One command a file: ``run`` is the command, ``EXIT_CODES`` says its exit codes."""

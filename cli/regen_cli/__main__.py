"""``python -m regen_cli`` is ``regen``."""

from regen_cli.app import main

main()

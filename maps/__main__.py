"""``python -m maps`` is ``lakeplumb``."""

from maps.cli.main import main

main(prog_name="lakeplumb")

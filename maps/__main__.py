"""``python -m maps`` is ``lakeplumb``."""

from maps.commandline import main

main(prog_name="lakeplumb")

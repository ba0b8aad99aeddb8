"""Files for other programs, and the folder they are written to, whole or not at all."""

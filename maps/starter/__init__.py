"""What a new venue folder starts with."""

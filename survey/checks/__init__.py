"""What a check says of readings and bed. Nothing is deleted."""

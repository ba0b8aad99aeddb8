"""What a published copy leaves out: people, notes, hidden pegs, and where the lake lies."""

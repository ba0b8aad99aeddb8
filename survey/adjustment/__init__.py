"""What the survey itself says of its errors: points of pegs, straight out, distances, and how large errors are."""

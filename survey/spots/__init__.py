"""What is answered for one spot: depth, range, and a setting for a float."""

"""The command line: what a person types, carried to one call and printed."""

"""Pages that work with no network: the map and a page for each peg."""

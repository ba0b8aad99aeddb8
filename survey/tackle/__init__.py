"""Shot, feed and wind: the rest of a rig beyond its setting."""

"""Places and shapes: geodesy, norths, shoreline, sight over water and barriers."""

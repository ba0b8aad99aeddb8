"""The bed on a grid, and what is read off it: contours and margins."""

"""Decisions of people on readings, and the tags by which they name them."""

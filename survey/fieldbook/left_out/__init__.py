"""Rows that do not count: examples, and sheets that repeat others."""

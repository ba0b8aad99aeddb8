"""Sheets to tables with known columns, and their cells to values."""

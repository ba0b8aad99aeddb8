"""Sheets to observations: readings, levels, waterlines and decisions."""

"""Sheets to print, as tagged PDF."""

"""Findings of the check on readings and bed. Nothing is deleted."""

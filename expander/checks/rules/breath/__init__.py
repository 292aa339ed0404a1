"""Winds and voices."""

ORDER = 3

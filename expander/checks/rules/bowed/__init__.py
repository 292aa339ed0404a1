"""Bowed strings."""

ORDER = 5

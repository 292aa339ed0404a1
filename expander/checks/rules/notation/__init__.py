"""Notation."""

ORDER = 9

"""Transposition, key and clef."""

ORDER = 2

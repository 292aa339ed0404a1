"""Chords and lines."""

ORDER = 7

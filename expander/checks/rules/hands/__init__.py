"""Harp, keyboards, mallets and percussion."""

ORDER = 6

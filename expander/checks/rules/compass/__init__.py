"""Range."""

ORDER = 1

"""Changes."""

ORDER = 4

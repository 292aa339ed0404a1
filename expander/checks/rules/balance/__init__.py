"""Balance."""

ORDER = 8

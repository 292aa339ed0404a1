"""The same input gives the same bytes, and a stop at any moment leaves the old file or the new."""

"""Hostile and broken input through the whole command, one row each: what must come of it."""

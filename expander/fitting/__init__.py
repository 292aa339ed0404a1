"""Phrases into ranges: the octave, the next player, or left and reported, with a reason."""

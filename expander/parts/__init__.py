"""One part for each player of a full score: taken apart, at written pitch, laid out to be read."""

from expander.parts.make import Options, PartSet, PlayerPart, make_parts

__all__ = ["Options", "PartSet", "PlayerPart", "make_parts"]

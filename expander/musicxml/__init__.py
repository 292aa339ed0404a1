"""MusicXML in and out: the only room that knows the format."""

from expander.musicxml.read import read, read_bytes

__all__ = ["read", "read_bytes"]

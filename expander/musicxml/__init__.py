"""MusicXML in and out: the only room that knows the format."""

from expander.musicxml.read import read, read_bytes
from expander.musicxml.write import file_bytes, to_bytes, write

__all__ = ["file_bytes", "read", "read_bytes", "to_bytes", "write"]

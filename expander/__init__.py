"""Expands a MusicXML short score into a full score for a given line-up."""

__version__ = "0.1.0"

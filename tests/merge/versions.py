"""Three versions of a score in the mini-notation, and what stands after merging them."""

from __future__ import annotations

from expander.merge import Merged, merge
from expander.model.score import Document
from expander.musicxml import read_bytes, to_bytes
from tests import mini


def through_a_file(score: Document) -> Document:
    """The score as it is read again."""
    return read_bytes(to_bytes(score), "score")


def version(text: str) -> Document:
    """A version from its text, saved and read."""
    return through_a_file(mini.document(text))


def merged(old: str, new: str, edited: str, *, keep_edited: bool = False) -> Merged:
    """The merge of three texts."""
    return merge(version(old), version(new), version(edited), keep_edited=keep_edited)


def text_of(done: Merged) -> str:
    """What stands, saved and read again, in the mini-notation."""
    return mini.to_text(through_a_file(done.score), ())


def canonical(text: str) -> str:
    """A text as `text_of` prints it."""
    return mini.to_text(version(text), ())

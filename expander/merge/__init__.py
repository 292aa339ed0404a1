"""Hand edits carried over into a score that was expanded again."""

from expander.merge.merge import Merged, merge

__all__ = ["Merged", "merge"]

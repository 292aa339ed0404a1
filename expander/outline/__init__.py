"""The outline: the plan of a piece on one sheet, for the eye and for the music stand."""

from expander.outline.gather import outline_of_plan, outline_of_score
from expander.outline.render import FORMATS, ending_of, rendered
from expander.outline.values import Outline

__all__ = ["FORMATS", "Outline", "ending_of", "outline_of_plan", "outline_of_score", "rendered"]

"""The proof: engraved pages with what the checks found marked at its note, to see and to hear."""

from expander.proof.gather import Proof, proof_of
from expander.proof.render import FORMATS, as_html, ending_of, rendered

__all__ = ["FORMATS", "Proof", "as_html", "ending_of", "proof_of", "rendered"]

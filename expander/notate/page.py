"""Page set-up for the reader: every staff fits, as large as may be.

A score is A3 upright for more than eight staves, else A4 upright. The largest staff is 7 mm high
(MOLA guidelines, from memory); sizes are common practice, no source.
"""

from __future__ import annotations

A4 = (210.0, 297.0)
A3 = (297.0, 420.0)
MARGIN = 15.0
HEAD = 32.0
LARGEST_STAFF = 7.0
SMALLEST_STAFF = 3.0
STAFF_SPACES = 11.0
"""Staff spaces that a staff takes up with what stands around it."""

FEW_STAVES = 8
TENTHS = 40


def defaults(staves: int) -> str:
    """MusicXML `defaults` content: scaling and page layout for so many staves."""
    width, height = A4 if staves <= FEW_STAVES else A3
    usable = height - 2 * MARGIN - HEAD
    staff = min(LARGEST_STAFF, max(SMALLEST_STAFF, 4 * usable / (STAFF_SPACES * max(1, staves))))
    staff = round(staff, 2)

    def tenths(millimetres: float) -> str:
        return f"{millimetres * TENTHS / staff:.0f}"

    margin = tenths(MARGIN)
    margins = "".join(
        f"<{side}-margin>{margin}</{side}-margin>" for side in ("left", "right", "top", "bottom")
    )
    return (
        f"<scaling><millimeters>{staff:g}</millimeters><tenths>{TENTHS}</tenths></scaling>"
        f"<page-layout><page-height>{tenths(height)}</page-height>"
        f"<page-width>{tenths(width)}</page-width>"
        f'<page-margins type="both">{margins}</page-margins></page-layout>'
    )

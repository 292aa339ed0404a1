"""Page set-up and title page for the reader: every staff fits, as large as may be.

A score is A3 upright for more than eight staves, else A4 upright. The largest staff is 7 mm high
(MOLA guidelines, from memory); sizes are common practice, no source.
"""

from __future__ import annotations

from html import escape

from msgspec import Struct

from expander.model.score import Credit, Header, Mark

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


class Page(Struct, frozen=True):
    """A page in millimetres, and the height of a staff on it."""

    width: float
    height: float
    staff: float

    def tenths(self, millimetres: float) -> str:
        """A length in MusicXML's tenths, of which a staff height has forty."""
        return f"{millimetres * TENTHS / self.staff:.0f}"


def page_for(staves: int) -> Page:
    """The page for a system of so many staves."""
    width, height = A4 if staves <= FEW_STAVES else A3
    usable = height - 2 * MARGIN - HEAD
    staff = min(LARGEST_STAFF, max(SMALLEST_STAFF, 4 * usable / (STAFF_SPACES * max(1, staves))))
    return Page(width, height, round(staff, 2))


def defaults(page: Page) -> str:
    """MusicXML `defaults` content: scaling and page layout."""
    margin = page.tenths(MARGIN)
    margins = "".join(
        f"<{side}-margin>{margin}</{side}-margin>" for side in ("left", "right", "top", "bottom")
    )
    return (
        f"<scaling><millimeters>{page.staff:g}</millimeters><tenths>{TENTHS}</tenths></scaling>"
        f"<page-layout><page-height>{page.tenths(page.height)}</page-height>"
        f"<page-width>{page.tenths(page.width)}</page-width>"
        f'<page-margins type="both">{margins}</page-margins></page-layout>'
    )


def title_page(header: Header, page: Page, version: str = "") -> tuple[Credit, ...]:
    """The title page: title and subtitle centred, words left, music right, rights at the foot.

    Places are common practice, no source.
    """
    title = header.work_title or header.movement_title
    own = next((c.text for c in header.credits if c.kind == "subtitle"), "")
    subtitle = header.movement_title if header.work_title else ""
    people = dict(reversed(header.people))
    rights = ", ".join(text for _, text in header.rights)
    top, middle = page.height - MARGIN, page.width / 2
    left, right = MARGIN, page.width - MARGIN
    rows = (
        ("title", title, "center", middle, top, 22),
        (
            "subtitle",
            own or (subtitle if subtitle != title else ""),
            "center",
            middle,
            top - 10,
            14,
        ),
        ("lyricist", people.get("lyricist", people.get("poet", "")), "left", left, top - 18, 10),
        ("composer", people.get("composer", ""), "right", right, top - 18, 10),
        ("arranger", people.get("arranger", ""), "right", right, top - 23, 10),
        ("rights", rights, "center", middle, MARGIN, 8),
        ("", version, "left", left, MARGIN, 8),
    )
    return tuple(_credit(page, *row) for row in rows if row[1])


def _credit(
    page: Page, kind: str, text: str, justify: str, x: float, y: float, size: int
) -> Credit:
    place = f'default-x="{page.tenths(x)}" default-y="{page.tenths(y)}"'
    vertical = "bottom" if y <= MARGIN else "top"
    words = (
        f'<credit-words {place} font-size="{size}" justify="{justify}" halign="{justify}" '
        f'valign="{vertical}">{escape(text, quote=False)}</credit-words>'
    )
    inner = (f"<credit-type>{kind}</credit-type>" if kind else "") + words
    return Credit(kind, text, Mark("score", "credit", (("page", "1"),), "", inner))

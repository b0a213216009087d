"""What pages carry for paper: the line at the foot of each sheet, and a code that leads back to the page."""

from __future__ import annotations

import segno
from markupsafe import Markup

LONGEST_LINE = 110
"""Characters at the foot of a sheet; more would run into the number of the page."""


def css_string(markup: str) -> Markup:
    """The text of some markup as the inside of a CSS string: one line, all but letters of ASCII, digits and blanks as
    escapes (CSS Syntax Module Level 3, 4.3.7), so that no text can end the string or the style sheet."""
    text = " ".join(Markup(markup).striptags().split())
    if len(text) > LONGEST_LINE:
        text = text[: LONGEST_LINE - 1] + "…"
    kept = (
        letter if letter == " " or (letter.isascii() and letter.isalnum()) else f"\\{ord(letter):06x} "
        for letter in text
    )
    return Markup("".join(kept))


def qr_code(address: str | None) -> Markup | None:
    """The address as a drawing (ISO/IEC 18004, error correction M); None where there is none."""
    if not address:
        return None
    drawn = segno.make(address, error="m", micro=False).svg_inline(scale=3, border=4, dark="#000", light="#fff")
    return Markup(drawn)  # segno draws modules only: no text of the address is in it

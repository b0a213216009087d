"""Makes text that somebody typed fit to be written into a feed or onto a terminal."""

from __future__ import annotations

import re

UNPRINTABLE = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ufffd\ufffe\uffff\ud800-\udfff]")
BLANKS = re.compile("[ \t\u00a0\u1680\u2000-\u200a\u202f\u205f\u3000]+")

TAG = re.compile(r"<(?=[/A-Za-z!])")
ENTITY = re.compile(r"&(?=#?\w+;)")

SECRET_VALUE = re.compile(r"([?&;][a-z_]*(?:token|key|secret|sig|signature|auth|pass|password)=)[^&\s]+", re.IGNORECASE)
SIGN_IN = re.compile(r"://[^/\s:@]+:[^/\s@]+@")
LONG_SEGMENT = re.compile(r"/(?:[0-9a-f]{24,}\b|(?=[\w-]*\d)[\w-]{24,})", re.IGNORECASE)


def clean(text: str) -> str:
    """The text without control characters, with single blanks and bare line feeds, no blanks at the ends of lines."""
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\u2028", "\n").replace("\u2029", "\n")
    return "\n".join(map(_clean_line, text.split("\n"))).strip("\n")


def _clean_line(line: str) -> str:
    # Nearly every line is clean, and this tells it several times quicker than the two substitutions.
    if line.isprintable() and "  " not in line and "\ufffd" not in line:
        return line.strip()
    return BLANKS.sub(" ", UNPRINTABLE.sub("", line)).strip()


def one_line(text: str, longest: int) -> str:
    """The cleaned text on one line of at most `longest` characters, an ellipsis where it was cut."""
    return clipped(" ".join(clean(text).split()), longest)


def without_markup(text: str) -> str:
    """Typed tags and entities as look-alikes: some readers take a description for markup."""
    if "<" not in text and "&" not in text:
        return text
    return ENTITY.sub("＆", TAG.sub("‹", text))


def without_secrets(text: str) -> str:
    """The text without what opens doors on the web: sign-ins, keys and long unguessable parts of addresses. A feed lies
    on servers of others and in caches (RFC 7986, 7)."""
    if "=" in text:
        text = SECRET_VALUE.sub(r"\1…", text)
    if "://" in text:
        text = SIGN_IN.sub("://", text)
    return LONG_SEGMENT.sub("/…", text) if "/" in text else text


def clipped(text: str, longest: int) -> str:
    """The text, cut to `longest` characters with an ellipsis as the last."""
    return text if len(text) <= longest else text[: longest - 1].rstrip() + "…"

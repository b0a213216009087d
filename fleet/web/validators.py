"""If-None-Match as RFC 9110, 13.1.2 reads it."""

from __future__ import annotations

import re
from collections.abc import Iterable

ENTITY_TAG = re.compile(r'(?:W/)?("[\x21\x23-\x7e\x80-\xff]*")')


def is_unchanged(etag: str, headers: Iterable[str]) -> bool:
    """Whether one of the If-None-Match fields names `etag`, compared weakly, or any representation at all (`*`)."""
    return any(field.strip() == "*" or etag in ENTITY_TAG.findall(field) for field in headers)

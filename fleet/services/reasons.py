"""Every decision carries words of its own on the trail."""

from __future__ import annotations

from fleet.errors import BadInput


def require_reason(reason: str) -> None:
    """Raises BadInput for a reason that says nothing."""
    if not reason.strip():
        raise BadInput("--reason: expected some words, so that others can see why")

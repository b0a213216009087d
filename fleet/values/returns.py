"""The columns of a sheet on which work comes back: one row for each task."""

from __future__ import annotations

REPORTED = ("key", "done_on", "by", "finding", "minutes", "reading", "note")
"""Taken in. `reading` holds QUANTITY=VALUE, or SUBJECT:QUANTITY=VALUE, several with `;` between them."""

DESCRIPTIVE = ("visit", "day", "site", "tank", "subject", "task")
"""For the eyes of whoever fills the sheet in; passed over on the way back."""

RETURN_COLUMNS = ("key", *DESCRIPTIVE, *REPORTED[1:])
"""All of them, in the order in which a sheet is written."""

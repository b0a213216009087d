"""Finds the files that ship with the program: pages, the sample register, the task catalogue."""

from __future__ import annotations

from pathlib import Path

PACKAGE = Path(__file__).resolve().parent


def _folder(name: str) -> Path:
    """Inside the package in a wheel, beside it in a checkout or an editable install."""
    inside = PACKAGE / name
    return inside if inside.is_dir() else PACKAGE.parent / name


def templates() -> Path:
    """Folder of the Jinja pages."""
    return _folder("templates")


def sample_data() -> Path:
    """Folder of the sample register and its story."""
    return _folder("sample_data")


def catalogue() -> Path:
    """Folder of the task catalogue's data files."""
    return PACKAGE / "catalogue"

"""Puts new files in the place of old ones so that nobody ever finds half of them."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path


def replace_file(path: Path, write: Callable[[Path], None]) -> None:
    """Lets `write` fill a file beside `path` and then renames it to `path`; after an error `path` is as it was."""
    path.parent.mkdir(parents=True, exist_ok=True)
    staging = Path(tempfile.mkdtemp(prefix=f".{path.name}.", dir=path.parent))
    try:
        write(staging / path.name)
        os.replace(staging / path.name, path)
    finally:
        shutil.rmtree(staging, ignore_errors=True)


def replace_files(folder: Path, contents: Mapping[str, bytes | None]) -> None:
    """Writes the files of `folder` by name, and removes those whose content is None.

    A new folder appears whole, by one rename. In a folder that is there already, every new file is written in full
    before the first old one gives way, and after an error the old ones are put back.
    """
    folder = folder.resolve()
    folder.parent.mkdir(parents=True, exist_ok=True)
    is_new = not folder.exists()
    staging = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", dir=folder.parent if is_new else folder))
    try:
        new, old = staging / "new", staging / "old"
        new.mkdir()
        old.mkdir()
        for name, content in contents.items():
            if content is not None:
                (new / name).write_bytes(content)
        if is_new:
            os.replace(new, folder)
        else:
            _swap(folder, contents, new, old)
    finally:
        shutil.rmtree(staging, ignore_errors=True)


def _swap(folder: Path, contents: Mapping[str, bytes | None], new: Path, old: Path) -> None:
    begun: list[str] = []
    try:
        for name, content in contents.items():
            begun.append(name)
            if (folder / name).exists():
                os.replace(folder / name, old / name)
            if content is not None:
                os.replace(new / name, folder / name)
    except BaseException:
        for name in begun:
            if (old / name).exists():
                os.replace(old / name, folder / name)
            elif contents[name] is not None and not (new / name).exists():
                (folder / name).unlink(missing_ok=True)
        raise

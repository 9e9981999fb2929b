"""Files that are written whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

__all__ = ["whole", "write_whole"]


@contextlib.contextmanager
def whole(path: str | os.PathLike[str], mode: int = 0o644) -> Iterator[BinaryIO]:
    """Write a file part by part; it is there once all of it is.

    Parameters
    ----------
    path : path
        Where to; a file that is there already is replaced.
    mode : int, optional
        Who may read and write it (Unix permissions).

    Yields
    ------
    binary file
        Seekable. What goes wrong while it is written leaves nothing behind, and what was there stays.

    Raises
    ------
    OSError
        If the file can't be written.
    """
    path = Path(path)
    if not path.parent.is_dir():
        raise FileNotFoundError(f"there is no folder {path.parent}")
    if path.is_dir():
        raise IsADirectoryError(f"{path} is a folder")
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".", suffix=path.suffix)
    try:
        with os.fdopen(handle, "wb") as file:
            yield file
        os.chmod(name, mode)
        os.replace(name, path)
    except BaseException:
        os.unlink(name)
        raise


def write_whole(path: str | os.PathLike[str], data: bytes) -> None:
    """Write a file whole or not at all.

    Parameters
    ----------
    path : path
        Where to; a file that is there already is replaced.
    data : bytes

    Raises
    ------
    OSError
        If the file can't be written; nothing is left behind then, and what was there stays.
    """
    with whole(path) as file:
        file.write(data)

"""Files that are written whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

__all__ = ["write_whole"]


def write_whole(path: str | os.PathLike, data: bytes) -> None:
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
    path = Path(path)
    if not path.parent.is_dir():
        raise FileNotFoundError(f"there is no folder {path.parent}")
    if path.is_dir():
        raise IsADirectoryError(f"{path} is a folder")
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".", suffix=path.suffix)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        os.chmod(name, 0o644)
        os.replace(name, path)
    except BaseException:
        os.unlink(name)
        raise

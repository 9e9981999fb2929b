import os
import stat

import pytest

from counter.basics.files import write_whole


def test_a_file_is_replaced_whole_and_can_be_read_by_others(tmp_path):
    path = tmp_path / "page.pdf"
    for data in (b"first", b"second"):
        write_whole(path, data)
        assert path.read_bytes() == data
    assert stat.S_IMODE(path.stat().st_mode) == 0o644 and os.listdir(tmp_path) == ["page.pdf"]


def test_what_breaks_leaves_the_old_file_and_nothing_else(tmp_path, monkeypatch):
    path = tmp_path / "page.pdf"
    write_whole(path, b"old")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(OSError, match="No space"):
        write_whole(path, b"new")
    assert path.read_bytes() == b"old" and os.listdir(tmp_path) == ["page.pdf"]


def test_a_folder_is_no_file(tmp_path):
    with pytest.raises(IsADirectoryError):
        write_whole(tmp_path, b"")
    with pytest.raises(FileNotFoundError, match="no folder"):
        write_whole(tmp_path / "none" / "page.pdf", b"")

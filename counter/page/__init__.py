"""The page: photo in, marked photo, count and verdict out."""

from __future__ import annotations

import sys
from pathlib import Path

__all__ = ["command"]

#: Served to this machine alone, with caps, and without sending anything out.
OPTIONS = {
    "server.address": "localhost",
    "server.maxUploadSize": "25",
    "server.enableXsrfProtection": "true",
    "browser.gatherUsageStats": "false",
    "client.showErrorDetails": "none",
    "client.toolbarMode": "minimal",
    "theme.primaryColor": "#2f6f73",
    "theme.baseRadius": "12px",
}


def command(port: int | None = None, *, headless: bool = False) -> list[str]:
    """Command that serves the page.

    Parameters
    ----------
    port : int, optional
        Port to serve it at; the first free one from 8501 by default.
    headless : bool, optional
        True opens no browser.

    Returns
    -------
    list of str
    """
    options = OPTIONS | ({"server.port": str(port)} if port else {}) | ({"server.headless": "true"} if headless else {})
    given = [part for name, value in options.items() for part in (f"--{name}", value)]
    return [sys.executable, "-m", "streamlit", "run", str(Path(__file__).with_name("home.py")), *given]

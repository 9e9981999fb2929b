"""The page: photo in, marked photo, count and verdict out."""

from __future__ import annotations

import sys
from pathlib import Path

__all__ = ["OPTIONS", "command"]

#: How the page is served, as in .streamlit/config.toml: to this machine alone,
#: with caps, and without sending anything out or showing what went wrong inside.
OPTIONS = {
    "server.address": "localhost",
    "server.maxUploadSize": "25",
    "server.enableXsrfProtection": "true",
    "server.enableCORS": "true",
    "browser.gatherUsageStats": "false",
    "client.showErrorDetails": "none",
    "client.toolbarMode": "minimal",
    # The browser says with each press which messages it has, and puts away those that no run has used for so long; a
    # run that ends between the two would take some away that the next one counts on, and the page would stand still.
    # Streamlit's own two runs are as long as a look at the notebook.
    "global.maxCachedMessageAge": "100",
    "runner.magicEnabled": "false",  # a line that is a value alone would be shown to the visitor
    "theme.baseRadius": "14px",
    "theme.buttonRadius": "14px",
    "theme.font": "ui-rounded, 'SF Pro Rounded', 'Nunito', system-ui, 'Segoe UI', 'Noto Sans', sans-serif",
    "theme.showWidgetBorder": "true",
    "theme.light.primaryColor": "#1f6a63",
    "theme.light.backgroundColor": "#fbf8f3",
    "theme.light.secondaryBackgroundColor": "#f1ebe1",
    "theme.light.textColor": "#22302f",
    "theme.light.borderColor": "#dcd3c4",
    "theme.dark.primaryColor": "#6cc3b8",
    "theme.dark.backgroundColor": "#151b1c",
    "theme.dark.secondaryBackgroundColor": "#1f2829",
    "theme.dark.textColor": "#ece8e0",
    "theme.dark.borderColor": "#364344",
}


def command(
    port: int | None = None,
    *,
    headless: bool = False,
    public: str | None = None,
    network: bool = False,
    address: str | None = None,
) -> list[str]:
    """Command that serves the page.

    Parameters
    ----------
    port : int, optional
        Port to serve it at; the first free one from 8501 by default.
    headless : bool, optional
        True opens no browser.
    public : str, optional
        Name under which others reach the page; without one it is for this machine alone.
    address : str, optional
        Address of this machine to listen on; without one, only this machine itself is heard.
    network : bool, optional
        Listen on all addresses of this machine, for a phone that is let in (:mod:`counter.page.phone`).

    Returns
    -------
    list of str
    """
    options = OPTIONS | ({"server.port": str(port)} if port else {}) | ({"server.headless": "true"} if headless else {})
    options |= {"browser.serverAddress": public} if public else {}
    options |= {"server.address": address} if address else {}
    options |= {"server.address": "0.0.0.0", "browser.serverAddress": "localhost"} if network else {}
    given = [part for name, value in options.items() for part in (f"--{name}", value)]
    return [sys.executable, "-m", "streamlit", "run", str(Path(__file__).with_name("serve.py")), *given]

"""Who may have a notebook: whether a visitor sits at this machine, and what whoever runs the page turned on."""

from __future__ import annotations

import ipaddress
import re
from collections.abc import Mapping

__all__ = ["SWITCH", "is_local", "is_this_machine", "turned_on"]

#: Environment variable by which whoever runs a shared server turns the notebook on ("on") or,
#: anywhere, off ("off").
SWITCH = "RIMTALLY_NOTEBOOK"


#: Headers that only something between the browser and the page adds (RFC 7239, RFC 9110 7.6.3, and the
#: usual ones of reverse proxies).
_BETWEEN = re.compile(r"forwarded|via|x-forwarded-.*|x-real-ip|x-client-ip|true-client-ip|cf-connecting-ip")


def is_local(address: str | None, headers: Mapping[str, str]) -> bool:
    """Tell whether a visitor sits at the machine on which the page runs.

    All of it must say so: what cannot be told is taken for a visitor from elsewhere.

    Parameters
    ----------
    address : str or None
        The address that the page listens on; None for all of the machine's.
    headers : mapping of str to str
        What the browser sent, names in any case. The host and the origin, which
        every browser gives (RFC 6455, 10.2), must be this machine, and nothing may
        stand between.

    Returns
    -------
    bool
    """
    sent = {name.lower(): value for name, value in headers.items()}
    return (
        is_this_machine(address)
        and is_this_machine(_host(sent.get("host", "")))
        and is_this_machine(_host(sent.get("origin", "").partition("://")[2]))
        and not any(_BETWEEN.fullmatch(name) for name in sent)
    )


def _host(authority: str) -> str:
    """The name in "name", "name:port" or "[address]:port" (RFC 3986, 3.2)."""
    found = re.fullmatch(r"(?:\[([^\]]+)\]|([^:\[\]/]+))(?::\d+)?/?", authority)
    return (found[1] or found[2]) if found else ""


def is_this_machine(name: str | None) -> bool:
    """Whether a name or address never leaves the machine.

    Parameters
    ----------
    name : str or None
        Without a port.

    Returns
    -------
    bool
        By RFC 6761, 6.3; RFC 1122, 3.2.1.3; RFC 4291, 2.5.3.
    """
    if not name:
        return False
    if name.lower() == "localhost":
        return True
    try:
        return ipaddress.ip_address(name).is_loopback
    except ValueError:
        return False


def turned_on(local: bool, switch: str | None) -> str:
    """Say whether a visitor has a notebook, and which.

    Parameters
    ----------
    local : bool
        The visitor sits at the machine itself, see :func:`is_local`.
    switch : str or None
        Value of the environment variable :data:`SWITCH`.

    Returns
    -------
    {"own", "shared", "off"}
        "own": that of the user who runs the page, :func:`open_own`. "shared":
        one of many on a server, which opens only to its code,
        :func:`open_shared`. "off": none. Whoever is not at the machine has
        none unless the switch says "on"; anything but "on" or nothing is off.
    """
    said = (switch or "").strip().lower()
    if said not in ("", "on"):
        return "off"
    if local:
        return "own"
    return "shared" if said else "off"

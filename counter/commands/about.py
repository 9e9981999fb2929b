"""Says what is installed, for a report of a fault."""

from __future__ import annotations

import argparse
import json
import os
import platform
import re
from importlib import metadata, resources

from counter.commands.common import AGREES

__all__ = ["arguments", "data", "run"]

#: Parts of a requirement behind its name (PEP 508).
_NAME = re.compile(r"[A-Za-z0-9._-]+")


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def run(options: argparse.Namespace) -> int:
    """Print what is installed; gives the exit code."""
    found = data()
    if options.json:
        print(json.dumps(found))
    else:
        print("\n".join(f"{name}: {value}" for name, value in found.items()))
    return AGREES


def data() -> dict[str, str]:
    """What is installed, by name: nothing in it says who or where the user is.

    Returns
    -------
    dict of str to str
    """
    weights = json.loads((resources.files("counter.counting") / "weights" / "band.json").read_text(encoding="utf-8"))
    found = {
        "rimtally": metadata.version("rimtally"),
        "weights": str(weights.get("version", "unknown")),
        "Python": f"{platform.python_implementation()} {platform.python_version()}",
        "system": f"{platform.system()} {platform.release()}, {platform.machine()}",
        "cores": str(os.cpu_count() or 1),
    }
    for line in metadata.requires("rimtally") or []:
        named = _NAME.match(line)
        if named and "extra ==" not in line:
            found[named[0]] = _version(named[0])
    return found | _decoders()


def _version(name: str) -> str:
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return "missing"


def _decoders() -> dict[str, str]:
    """What reads pictures, with its version; a library that is broken says so here."""
    try:
        from PIL import features

        names = {"jpg": "libjpeg", "zlib": "zlib", "webp": "libwebp", "jpg_2000": "OpenJPEG", "libtiff": "libtiff"}
        return {said: str(features.version(name) or "missing") for name, said in names.items()}
    except ImportError as error:
        return {"decoders": str(error)}

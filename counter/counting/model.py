"""Trained networks: loaded once, checked against their cards, run by OpenCV."""

from __future__ import annotations

import hashlib
import json
from functools import cache
from importlib import resources
from threading import Lock
from typing import Any

import cv2
import numpy as np

__all__ = ["card_of", "network", "predicted"]

#: The page counts in several threads, and a network holds what it was given.
_ONE_AT_A_TIME = Lock()
#: Networks for which OpenCV's older engine is the quicker one: OpenCV 5 has a second, which takes three quarters of the
#: older one's time for the band, but nearly twice of it for the piece. OpenCV 4 has only the older one.
_OLDER_ENGINE = {"piece", "rim"}


@cache
def card_of(name: str) -> dict[str, Any]:
    """What is written about a network: version, hash, channels.

    Parameters
    ----------
    name : str
        Of its files in ``counter/counting/weights``.
    """
    folder = resources.files("counter.counting") / "weights"
    card: dict[str, Any] = json.loads((folder / f"{name}.json").read_text(encoding="utf-8"))
    return card


@cache
def network(name: str) -> cv2.dnn.Net:
    """A network, loaded once.

    Parameters
    ----------
    name : str

    Raises
    ------
    RuntimeError
        If its file is not the one that its card describes.
    """
    file = resources.files("counter.counting") / "weights" / f"{name}.onnx"
    data = file.read_bytes()
    if hashlib.sha256(data).hexdigest() != card_of(name)["sha256"]:
        raise RuntimeError(f"{name}.onnx is not the file that {name}.json describes: install the program again")
    if name in _OLDER_ENGINE and hasattr(cv2.dnn, "ENGINE_CLASSIC"):
        # Given the bytes, OpenCV 5.0 forgets which engine was asked for; a path with other letters it can't open
        # everywhere.
        with resources.as_file(file) as path:
            if str(path).isascii():
                return cv2.dnn.readNetFromONNX(str(path), engine=cv2.dnn.ENGINE_CLASSIC)
    return cv2.dnn.readNetFromONNX(np.frombuffer(data, np.uint8))


def predicted(name: str, given: np.ndarray) -> np.ndarray:
    """What a network says.

    Parameters
    ----------
    name : str
    given : ndarray of shape (1, channels, rows, columns), float32

    Returns
    -------
    ndarray of shape (1, channels, rows, columns), float32
    """
    with _ONE_AT_A_TIME:
        net = network(name)
        net.setInput(np.ascontiguousarray(given, np.float32))
        return net.forward().copy()

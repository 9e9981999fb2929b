"""Networks as ONNX files of half the size, each with a card; without torch."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import numpy as np
import onnx
from onnx import TensorProto, helper, numpy_helper

__all__ = ["halved", "write_halved"]


def halved(model: onnx.ModelProto) -> onnx.ModelProto:
    """Keep the weights of a model in half precision; they are cast back where they are used.

    Parameters
    ----------
    model : ModelProto
        It is changed.

    Returns
    -------
    ModelProto
        The same one.
    """
    casts = []
    for weights in model.graph.initializer:
        values = numpy_helper.to_array(weights)
        if values.dtype != np.float32:
            continue
        name = weights.name
        weights.CopyFrom(numpy_helper.from_array(values.astype(np.float16), f"{name} half"))
        casts.append(helper.make_node("Cast", [f"{name} half"], [name], to=TensorProto.FLOAT))
    nodes = [*casts, *model.graph.node]
    del model.graph.node[:]
    model.graph.node.extend(nodes)
    onnx.checker.check_model(model)
    return model


def write_halved(model: onnx.ModelProto, path: str | Path, card: dict[str, Any]) -> Path:
    """Write a model, its weights in half precision, and its card beside it.

    Parameters
    ----------
    model : ModelProto
        It is changed.
    path : path
        "NAME.onnx"; the card becomes "NAME.json".
    card : dict
        What is to be known of it; the hash is added.

    Returns
    -------
    Path
        Of the ONNX file.
    """
    path = Path(path)
    onnx.save(halved(model), path)
    told = card | {"sha256": hashlib.sha256(path.read_bytes()).hexdigest()}
    path.with_suffix(".json").write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")
    return path

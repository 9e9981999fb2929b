"""Trained weights, written as ONNX with version and hash."""

from __future__ import annotations

import hashlib
import itertools
import json
from pathlib import Path

import numpy as np
import onnx
import torch
from onnx import TensorProto, helper, numpy_helper
from torch import nn

from counter.counting import band
from counter.training.network import CHANNELS, BandNetwork

__all__ = ["write_weights"]


def _folded(network: BandNetwork) -> BandNetwork:
    """The same network with its normalisations worked into the convolutions before them."""
    for module in network.modules():
        if isinstance(module, nn.Sequential):
            for name, (first, second) in zip(list(module._modules), itertools.pairwise(list(module)), strict=False):
                if isinstance(first, nn.Conv2d) and isinstance(second, nn.BatchNorm2d):
                    module._modules[name] = torch.nn.utils.fusion.fuse_conv_bn_eval(first, second)
                    after = list(module._modules)[list(module._modules).index(name) + 1]
                    module._modules[after] = nn.Identity()
    return network


def _halved(model: onnx.ModelProto) -> onnx.ModelProto:
    """The same model with its weights kept in half precision, cast back where they are used."""
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


def write_weights(state: str | Path, folder: str | Path, version: str) -> Path:
    """Write "band.onnx" and "band.json" to a folder.

    Parameters
    ----------
    state : path
        Weights of :class:`BandNetwork` as written by training.
    folder : path
        Where the files go.
    version : str
        Of the weights.

    Returns
    -------
    Path
        Of the ONNX file.
    """
    network = BandNetwork()
    network.load_state_dict(torch.load(state, map_location="cpu", weights_only=True))
    network = _folded(network.eval())
    path = Path(folder) / "band.onnx"
    torch.onnx.export(
        network,
        (torch.zeros(1, 4, band.ROWS, 512),),
        path,
        input_names=["band"],
        output_names=["said"],
        opset_version=17,
        dynamo=False,
    )
    onnx.save(_halved(onnx.load(path)), path)
    card = {
        "version": version,
        "sha256": hashlib.sha256(path.read_bytes()).hexdigest(),
        "channels": CHANNELS,
        "rows": band.ROWS,
        "above": band.ABOVE,
        "below": band.BELOW,
    }
    path.with_suffix(".json").write_text(json.dumps(card, indent=1) + "\n", encoding="utf-8")
    return path

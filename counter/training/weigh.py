"""Trained weights, written as ONNX with version and hash."""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import onnx
import torch
from onnx import numpy_helper
from torch import nn

from counter.counting import band
from counter.training.finding.networks import PieceNet, RimNet
from counter.training.finding.train import AGAIN, COLUMNS, COPY, ROWS
from counter.training.half import write_halved
from counter.training.network import CHANNELS, BandNetwork

__all__ = ["read_weights", "write_finder", "write_onnx", "write_weights"]


def _folded(network: nn.Module) -> nn.Module:
    """The same network with its normalisations worked into the convolutions before them."""
    for module in network.modules():
        if isinstance(module, nn.Sequential):
            for name, (first, second) in zip(list(module._modules), itertools.pairwise(list(module)), strict=False):
                if isinstance(first, nn.Conv2d) and isinstance(second, nn.BatchNorm2d):
                    module._modules[name] = torch.nn.utils.fusion.fuse_conv_bn_eval(first, second)
                    after = list(module._modules)[list(module._modules).index(name) + 1]
                    module._modules[after] = nn.Identity()
    return network


def write_onnx(network: nn.Module, example: torch.Tensor, path: str | Path, card: dict) -> Path:
    """Write a trained network as ONNX, and its card beside it.

    Parameters
    ----------
    network : nn.Module
        With its weights.
    example : tensor
        What it takes.
    path : path
        "NAME.onnx"; the card becomes "NAME.json".
    card : dict
        What is to be known of it; the hash is added.

    Returns
    -------
    Path
    """
    path = Path(path)
    torch.onnx.export(
        _folded(network.eval().cpu().float()),
        (example,),
        path,
        input_names=["given"],
        output_names=["said"],
        opset_version=17,
        dynamo=False,
    )
    return write_halved(onnx.load(path), path, card)


def read_weights(path: str | Path) -> dict[str, torch.Tensor]:
    """The weights of a "band.onnx", to go on training from.

    Parameters
    ----------
    path : path

    Returns
    -------
    dict of str to Tensor
        State of :class:`BandNetwork`. Normalisations were worked into the convolutions when it was written:
        here they change nothing, and training has to hold them still.
    """
    network = BandNetwork().eval()
    state = network.state_dict()
    known = {
        weights.name.removesuffix(" half"): torch.from_numpy(numpy_helper.to_array(weights).astype(np.float32))
        for weights in onnx.load(path).graph.initializer
    }
    for name, module in network.named_modules():
        if isinstance(module, nn.Conv2d):
            state[f"{name}.weight"] = known[f"{name}.weight"]
            if module.bias is not None:
                state[f"{name}.bias"] = known[f"{name}.bias"]
        elif isinstance(module, nn.BatchNorm2d):
            before, _, place = name.rpartition(".")
            state[f"{name}.bias"] = known[f"{before}.{int(place) - 1}.bias"]
            state[f"{name}.running_var"] = torch.full_like(state[f"{name}.running_var"], 1 - module.eps)
    return state


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
    card = {"version": version, "channels": CHANNELS, "rows": band.ROWS, "above": band.ABOVE, "below": band.BELOW}
    return write_onnx(network, torch.zeros(1, 4, band.ROWS, 512), Path(folder) / "band.onnx", card)


def write_finder(states: str | Path, folder: str | Path, version: str) -> list[Path]:
    """Write "piece.onnx" and "rim.onnx", with their cards, to a folder.

    Parameters
    ----------
    states : path
        Folder with "piece.pt" and "rim.pt" as written by training.
    folder : path
        Where the files go.
    version : str
        Of the weights.

    Returns
    -------
    list of Path
        Of the ONNX files.
    """
    written = []
    for name, kind, example in (
        ("piece", PieceNet, torch.zeros(1, 3, COPY, COPY)),
        ("rim", RimNet, torch.zeros(1, 3, ROWS, COLUMNS + 2 * AGAIN)),
    ):
        network = kind()
        network.load_state_dict(torch.load(Path(states) / f"{name}.pt", map_location="cpu", weights_only=True))
        written.append(write_onnx(network, example, Path(folder) / f"{name}.onnx", {"version": version}))
    return written

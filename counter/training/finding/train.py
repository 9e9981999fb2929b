"""Training of the finder's networks.

Goes by steps: the same store, grounds, seed and number of steps make the same
recipe anywhere.
"""

from __future__ import annotations

import copy
import time
from collections.abc import Callable
from typing import Any

import torch
from torch import nn
from torch.nn import functional

from counter.training.finding.networks import PieceNet, RimNet
from counter.training.finding.scenes import Scenes, draw_scenes, photographed, polar
from counter.training.finding.store import Store

__all__ = ["piece_loss", "rim_loss", "train_piece", "train_rim"]

#: Side of the small copy on which pieces are found, pixels, and diameters of pieces on it.
COPY, COPY_DIAMETERS = 288, (44.0, 300.0)
#: Rows and columns of a rim laid straight, columns shown again on either side, and distances of
#: the first and last row from the middle, in radii of the ellipse round which it is laid.
ROWS, COLUMNS, AGAIN, DEPTHS = 96, 512, 32, (0.45, 1.55)
#: Side of the pictures from which rims are cut, pixels, and diameters of pieces on them.
CLOSE, CLOSE_DIAMETERS = 448, (150.0, 430.0)
#: Spread of the centre ring's spot, pixels of the output.
SPOT = 3.0


def piece_loss(said: torch.Tensor, scenes: Scenes) -> torch.Tensor:
    """What a :class:`PieceNet` says against what is true."""
    side = said.shape[-1]
    body, edge, thing, loose = (
        functional.avg_pool2d(v, 2) for v in (scenes.body, scenes.edge, scenes.thing, scenes.loose)
    )
    line = torch.arange(side, device=said.device, dtype=torch.float32)
    at = (scenes.centre + 0.5) / 2 - 0.5
    away = (line[None, None] - at[:, :1, None]) ** 2 + (line[None, :, None] - at[:, 1:, None]) ** 2
    spot = torch.exp(-0.5 * away / SPOT**2) * scenes.plain[:, None, None]
    wanted = torch.cat([body, edge, thing, loose, spot[:, None]], dim=1).clamp(0, 1)
    weight = torch.tensor([1.0, 0.6, 0.3, 0.3, 3.0], device=said.device)[None, :, None, None]
    places = (functional.binary_cross_entropy_with_logits(said, wanted, reduction="none") * weight).mean() * 5
    chance = torch.sigmoid(said[:, 0])
    both = (chance * body[:, 0]).sum(dim=(1, 2))
    dice = 1 - (2 * both + 20) / (chance.sum(dim=(1, 2)) + body[:, 0].sum(dim=(1, 2)) + 20)
    return places + dice.mean()


def rim_loss(said: torch.Tensor, row: torch.Tensor, seen: torch.Tensor, use: torch.Tensor) -> torch.Tensor:
    """What a :class:`RimNet` says against where the rim runs."""
    inner = said[..., AGAIN // 2 : -(AGAIN // 2)]
    rows = inner.shape[2]
    row, seen, use = (v.view(len(v), -1, 2).mean(dim=2) for v in (row, seen, use))
    known = (use > 0.99).float()
    half = ((row + 0.5) / 2 - 0.5).clamp(0, rows - 1)
    logs = functional.log_softmax(inner[:, 0], dim=1)
    at = torch.arange(rows, device=said.device, dtype=torch.float32)[None, :, None]
    wanted = torch.exp(-0.5 * ((at - half[:, None]) / 0.7) ** 2)
    wanted = wanted / wanted.sum(dim=1, keepdim=True)
    weight = known * (0.15 + 0.85 * (seen > 0.5))
    crossed = -(wanted * logs).sum(dim=1)
    mean = (logs.exp() * at).sum(dim=1)
    off = functional.smooth_l1_loss(mean, half, reduction="none", beta=0.5)
    place = ((crossed + 0.5 * off) * weight).sum() / weight.sum().clamp(min=1)
    view = functional.binary_cross_entropy_with_logits(inner[:, 1].mean(dim=1), (seen > 0.5).float(), reduction="none")
    return place + 0.5 * (view * (0.3 + 0.7 * known)).mean()


def _begun(network: Any, start: str | None, device: torch.device) -> Any:
    """A network on its device, with weights to go on from where there are some."""
    if start is not None:
        network.load_state_dict(torch.load(start, map_location="cpu", weights_only=True))
    return network.to(device)


def _train(
    network: Any,
    loss_of: Callable[[nn.Module, int], torch.Tensor],
    steps: int,
    rate: float,
    seconds: float | None,
) -> Any:
    """Train, and return the moving mean of the weights."""
    device = next(network.parameters()).device
    optimiser = torch.optim.AdamW(network.parameters(), lr=rate, weight_decay=0.01)
    plan = torch.optim.lr_scheduler.OneCycleLR(optimiser, rate, total_steps=steps, pct_start=0.1)
    mean = copy.deepcopy(network)
    began = time.time()
    lately = 0.0
    for step in range(steps):
        with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
            loss = loss_of(network, step)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(network.parameters(), 2.0)
        optimiser.step()
        plan.step()
        keep = min(0.998, (step + 1) / (step + 20))
        with torch.no_grad():
            for ours, theirs in zip(mean.state_dict().values(), network.state_dict().values(), strict=True):
                if ours.dtype.is_floating_point:
                    ours.lerp_(theirs, 1 - keep)
                else:
                    ours.copy_(theirs)
        lately = 0.98 * lately + 0.02 * loss.item() if step % 10 == 0 else lately
        if step % 200 == 0:
            print(f"step {step} loss {loss.item():.4f} seconds {time.time() - began:.0f}", flush=True)
        if seconds and time.time() - began > seconds:
            print(f"stopped after {step} of {steps} steps", flush=True)
            break
    return mean.eval()


def train_piece(
    store: Store,
    grounds: torch.Tensor,
    steps: int,
    *,
    batch: int = 64,
    seed: int = 1,
    rate: float = 3e-3,
    start: str | None = None,
    seconds: float | None = None,
) -> PieceNet:
    """Train the network that finds pieces.

    Parameters
    ----------
    store : Store
    grounds : tensor
    steps : int
    batch : int
    seed : int
    rate : float
        Highest learning rate; lower for weights that have learned already.
    start : path or None
        Weights to go on from.
    seconds : float or None
        Stop early, where time on a machine is short.
    """
    torch.manual_seed(seed)
    device = store.pixels.device

    def loss_of(network: nn.Module, step: int) -> torch.Tensor:
        with torch.no_grad(), torch.autocast(device.type, enabled=False):
            scenes = draw_scenes(store, grounds, batch, COPY, COPY_DIAMETERS)
            photo = photographed(scenes.light).to(memory_format=torch.channels_last)
        return piece_loss(network(photo).float(), scenes)

    return _train(_begun(PieceNet(), start, device), loss_of, steps, rate, seconds)


def train_rim(
    store: Store,
    grounds: torch.Tensor,
    steps: int,
    *,
    batch: int = 48,
    seed: int = 2,
    rate: float = 3e-3,
    start: str | None = None,
    seconds: float | None = None,
) -> RimNet:
    """Train the network that follows a rim; parameters as in :func:`train_piece`."""
    torch.manual_seed(seed)
    device = store.pixels.device

    def loss_of(network: nn.Module, step: int) -> torch.Tensor:
        with torch.no_grad(), torch.autocast(device.type, enabled=False):
            scenes = draw_scenes(store, grounds, batch, CLOSE, CLOSE_DIAMETERS)
            straight, row, seen, use = polar(photographed(scenes.light), scenes, ROWS, COLUMNS, DEPTHS, AGAIN)
        return rim_loss(network(straight.contiguous(memory_format=torch.channels_last)).float(), row, seen, use)

    return _train(_begun(RimNet(), start, device), loss_of, steps, rate, seconds)

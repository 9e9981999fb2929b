"""From rims to weights."""

from __future__ import annotations

import copy
import json
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import torch
from torch.nn import functional

from counter.counting import band
from counter.training.bands import Bands, Batch
from counter.training.network import CHANNELS, BandNetwork, prepared
from counter.training.rims import Rims
from counter.training.stretches import count_loss
from counter.training.weigh import read_weights

__all__ = ["losses", "train"]

#: Highest learning rate, and the share of the steps in which it is reached.
RATE, WARM = 3e-3, 0.08
#: Weight of each loss.
WEIGHTS = {
    "middle": 1.0,
    "gap": 1.0,
    "seam": 0.3,
    "pair": 0.2,
    "seen": 0.3,
    "depth": 0.5,
    "scale": 0.4,
    "count": 0.35,
}
#: Places near the seam count this much more.
SEAM = 2.0
#: Share of the last weights that each step keeps in the running mean.
KEPT = 0.998
#: Steps between two looks at the rims that are held out.
TOLD = 500
#: Steps of which one learns through the count, which takes longer than all else, with so many times its weight.
COUNTED = 3


def losses(said: torch.Tensor, batch: Batch, *, counting: bool = True) -> dict[str, torch.Tensor]:
    """How wrong the network is about each thing.

    Parameters
    ----------
    said : Tensor of shape (B, len(CHANNELS), 1, P), float
    batch : Batch
    counting : bool
        False to leave out the count.

    Returns
    -------
    dict of str to Tensor
        Means over the places that speak about it, in nats (depth: stitch widths).
    """
    said = said[:, :, 0]
    near = 1 + (SEAM - 1) * functional.max_pool1d(batch.seam[:, None], 33, 1, 16)[:, 0]
    told = batch.tellable * near
    rim = (batch.depth > -0.75) & (batch.depth < 1.2) & (batch.scale.abs() < 1.25)
    rim = rim.float() * (batch.tellable + (batch.scale.abs() >= 0.8)).clamp(max=1)

    def odds(name, weight):
        loss = functional.binary_cross_entropy_with_logits(
            said[:, CHANNELS.index(name)], getattr(batch, name), reduction="none"
        )
        return (loss * weight).sum() / weight.sum().clamp(min=1)

    every = torch.ones_like(batch.seen)
    depth = functional.smooth_l1_loss(said[:, CHANNELS.index("depth")], batch.depth, beta=0.2, reduction="none")
    # A scale between two of the grid is shared out between them.
    step = float(band.SCALES[1] - band.SCALES[0])
    at = ((batch.scale - float(band.SCALES[0])) / step).clamp(0, len(band.SCALES) - 1)
    share = (1 - (at[:, None] - torch.arange(len(band.SCALES), device=at.device)[None, :, None]).abs()).clamp(min=0)
    scale = -(share * torch.log_softmax(said[:, CHANNELS.index("depth") + 1 :], 1)).sum(1)
    valid = batch.seen * rim
    return {
        "middle": odds("middle", told),
        "gap": odds("gap", told),
        "seam": odds("seam", batch.tellable),
        "pair": odds("pair", batch.tellable),
        "seen": odds("seen", every),
        "depth": (depth * valid).sum() / valid.sum().clamp(min=1),
        "scale": (scale * valid).sum() / valid.sum().clamp(min=1),
        **(
            {"count": count_loss(said[:, CHANNELS.index("middle")], said[:, CHANNELS.index("gap")], batch)}
            if counting
            else {}
        ),
    }


def train(
    source: Rims,
    held_out: Rims,
    folder: str | Path,
    *,
    steps: int = 20000,
    batch: int = 128,
    seed: int = 1,
    start: str | Path | None = None,
    rate: float = RATE,
    device: str | None = None,
    report: Callable[[str], None] = print,
) -> BandNetwork:
    """Train a network.

    Parameters
    ----------
    source, held_out : Rims
        To learn from, and to say how it goes.
    folder : path
        Where weights ("band.pt") and log ("log.jsonl") go.
    steps : int
        How many: the recipe goes by them, not by the clock.
    batch : int
        Bands of one step.
    seed : int
    start : path or None
        Weights to go on from: ".pt" as training writes them, or a published ".onnx", which holds no
        normalisation any more: what there is of it is held still then.
    rate : float
        Highest learning rate; lower for weights that have learned already.
    device : str or None
        Of torch; an accelerator where there is one.
    report : callable
        Called with a line now and then.

    Returns
    -------
    BandNetwork
        The running mean of the weights, on the CPU.
    """
    device = torch.device(device or ("cuda" if torch.cuda.is_available() else "cpu"))
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    bands, check = Bands(source, device, seed), Bands(held_out, device, seed + 1)
    torch.manual_seed(seed)
    network = BandNetwork().to(device)
    if start is not None:
        published = Path(start).suffix == ".onnx"
        network.load_state_dict(
            read_weights(start) if published else torch.load(start, map_location=device, weights_only=True)
        )
        network.train(not published)
    mean = copy.deepcopy(network)
    optimiser = torch.optim.AdamW(network.parameters(), rate, weight_decay=0.02)
    began = time.monotonic()
    tests = [check.draw(64, plain=plain) for plain in (False, True) for _ in range(2)]
    with (folder / "log.jsonl").open("w", encoding="utf-8") as log:
        for step in range(1, steps + 1):
            done = step / steps
            now = (
                rate * min(1.0, done / WARM + 0.02) * (0.5 + 0.5 * np.cos(np.pi * max(0.0, (done - WARM) / (1 - WARM))))
            )
            for group in optimiser.param_groups:
                group["lr"] = now + 1e-5
            drawn = bands.draw(batch)
            counting = step % COUNTED == 0
            # Half the bits where it costs nothing: twice as fast on a CPU that knows bfloat16.
            with torch.autocast(device.type, dtype=torch.bfloat16):
                said = network(prepared(drawn.pixels))
            parts = losses(said.float(), drawn, counting=counting)
            loss = sum(WEIGHTS[name] * value for name, value in parts.items())
            if counting:
                loss = loss + (COUNTED - 1) * WEIGHTS["count"] * parts["count"]
            optimiser.zero_grad(set_to_none=True)
            loss.backward()
            torch.nn.utils.clip_grad_norm_(network.parameters(), 2.0)
            optimiser.step()
            with torch.no_grad():
                kept = min(KEPT, step / (step + 20))
                for own, new in zip(mean.state_dict().values(), network.state_dict().values(), strict=True):
                    if own.dtype.is_floating_point:
                        own.lerp_(new, 1 - kept)
                    else:
                        own.copy_(new)
            if step == 1 or step % TOLD == 0 or step == steps:
                mean.eval()
                with torch.no_grad():
                    sums = [
                        {name: float(v) for name, v in losses(mean(prepared(test.pixels)), test).items()}
                        for test in tests
                    ]
                row = {"step": step, "minutes": round((time.monotonic() - began) / 60, 2), "rate": now}
                row |= {name: round(float(value.detach()), 4) for name, value in parts.items()}
                for kind, pick in (("disturbed", sums[:2]), ("plain", sums[2:])):
                    row[kind] = {name: round(float(np.mean([s[name] for s in pick])), 4) for name in sums[0]}
                log.write(json.dumps(row) + "\n")
                log.flush()
                report(json.dumps(row))
                torch.save(mean.state_dict(), folder / "band.pt")
    torch.save(mean.state_dict(), folder / "band.pt")
    return mean.cpu().eval()

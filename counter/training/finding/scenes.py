"""Pictures for training the finder, drawn in batches on the device that trains.

A piece in layers, or an invented disc, is recoloured and laid on any ground in
its own light and shadow, with other pieces beside it and things over it, then
photographed: exposure, white, blur, noise and JPEG vary far beyond taste.
Colours of piece and ground are made to meet in a quarter of the pictures.
"""

from __future__ import annotations

from dataclasses import dataclass

import torch
from torch.nn import functional

from counter.training.finding.discs import draw_discs
from counter.training.finding.store import POINTS, SIDE, Store

__all__ = ["Scenes", "draw_scenes", "photographed", "polar"]

#: Share of the main pieces that are invented discs.
INVENTED = 0.35
#: Share of pictures with other pieces beside the main one, and of those that touch it.
BESIDE, TOUCHING = 0.35, 0.5
#: Share of pictures whose piece takes its colour from the ground.
SAME_COLOUR = 0.25
#: Side of the pictures of invented discs, and diameter of a disc on them.
DISC_SIDE, DISC = 384, 256.0


@dataclass(eq=False)
class Scenes:
    """A batch of pictures with what is true of them.

    Parameters
    ----------
    light : tensor of shape (B, 3, S, S)
        Linear, 0 to about 1.
    body : tensor of shape (B, 1, S, S)
        1 where a piece is, also under what lies over it.
    edge : tensor of shape (B, 1, S, S)
        1 along the outlines of pieces.
    thing, loose : tensor of shape (B, 1, S, S)
        1 where other things are in view, and yarn that is not the piece.
    centre : tensor of shape (B, 2)
        Of the main piece, pixels.
    rim : tensor of shape (B, POINTS, 2)
        Of the main piece, pixels.
    hidden : tensor of shape (B, POINTS)
    plain : tensor of shape (B,), bool
        True where there is a main piece with a rim that one can follow.
    """

    light: torch.Tensor
    body: torch.Tensor
    edge: torch.Tensor
    thing: torch.Tensor
    loose: torch.Tensor
    centre: torch.Tensor
    rim: torch.Tensor
    hidden: torch.Tensor
    plain: torch.Tensor


@dataclass(eq=False)
class _Layer:
    """Pieces on their own, each of its tensors of shape (B, ..., side, side)."""

    colour: torch.Tensor
    piece: torch.Tensor
    thing: torch.Tensor
    loose: torch.Tensor
    body: torch.Tensor
    shade: torch.Tensor


def _rand(n: int, low: float, high: float, device) -> torch.Tensor:
    return low + (high - low) * torch.rand(n, device=device)


def _turn(angle: torch.Tensor) -> torch.Tensor:
    cos, sin = torch.cos(angle), torch.sin(angle)
    return torch.stack([torch.stack([cos, -sin], -1), torch.stack([sin, cos], -1)], -2)


def _grid(size: int, to_stored: torch.Tensor, at: torch.Tensor, stored_at: torch.Tensor, side: int) -> torch.Tensor:
    """Where each pixel of a picture lies in a stored one, as grid_sample takes it."""
    line = torch.arange(size, device=at.device, dtype=torch.float32)
    y, x = torch.meshgrid(line, line, indexing="ij")
    points = torch.stack([x, y], -1)[None] - at[:, None, None]
    stored = torch.einsum("bij,byxj->byxi", to_stored, points) + stored_at[:, None, None]
    return (stored + 0.5) / side * 2 - 1


def _sampled(picture: torch.Tensor, grid: torch.Tensor, padding: str) -> torch.Tensor:
    return functional.grid_sample(picture, grid, mode="bilinear", padding_mode=padding, align_corners=False)


def _stored_layer(store: Store, index: torch.Tensor, grid: torch.Tensor, level: int) -> _Layer:
    colour = (store.pixels[index].float() / 255) ** 2.2
    cover = store.cover[index].float() / 255
    shade = (store.shade[index].float() / 128) ** 2
    if level:
        colour, cover, shade = (functional.avg_pool2d(v, 2**level) for v in (colour, cover, shade))
    colour, shade = _sampled(colour, grid, "border"), _sampled(shade, grid, "border")
    cover = _sampled(cover, grid, "zeros")
    return _Layer(colour, cover[:, :1], cover[:, 1:2], cover[:, 2:3], cover[:, 3:], shade)


def _disc_layer(discs: dict, grid: torch.Tensor, level: int) -> _Layer:
    colour, cover, body = discs["colour"], discs["cover"], discs["body"]
    worked = discs["worked"].float()[:, None, None, None]
    shift = torch.randint(-9, 10, (2,)).tolist()
    soft = functional.avg_pool2d(torch.roll(body, shift, (2, 3)), 15, 1, 7)
    shade = 1 - torch.rand(len(body), 1, 1, 1, device=body.device) * 0.75 * soft
    if level:
        colour, cover, body, shade = (functional.avg_pool2d(v, 2**level) for v in (colour, cover, body, shade))
    colour, shade = _sampled(colour, grid, "border"), _sampled(shade, grid, "border")
    cover, body = _sampled(cover, grid, "zeros"), _sampled(body, grid, "zeros")
    none = torch.zeros_like(cover)
    return _Layer(colour, cover * worked, cover * (1 - worked), none, body * worked, shade)


def _grounds(grounds: torch.Tensor, n: int, size: int, pitch: torch.Tensor) -> torch.Tensor:
    """Pictures to lay pieces on, shape (n, 3, size, size), linear."""
    device = grounds.device
    index = torch.randint(0, len(grounds), (n,), device=device)
    zoom = torch.exp(_rand(n, -1.2, 0.5, device)) * 512 / size
    turn = _turn(_rand(n, 0, 6.283, device)) * zoom[:, None, None]
    middle = torch.full((n, 2), size / 2, device=device)
    at = _rand(2 * n, 100, 412, device).view(n, 2)
    picture = _sampled((grounds[index].float() / 255) ** 2.2, _grid(size, turn, middle, at, 512), "reflection")
    gains = torch.exp(0.35 * torch.randn(n, 3, 1, 1, device=device)) * torch.exp(
        0.4 * torch.randn(n, 1, 1, 1, device=device)
    )
    picture = picture * gains
    pale = (torch.rand(n, 1, 1, 1, device=device) < 0.3).float() * torch.rand(n, 1, 1, 1, device=device)
    picture = picture * (1 - pale) + pale * (0.4 + 0.6 * picture.mean(dim=(1, 2, 3), keepdim=True))
    # Plain tables and cloth with a slow change of light.
    tone = torch.rand(n, 1, 1, 1, device=device) ** 0.7
    plain = tone * torch.exp(0.12 * torch.randn(n, 3, 1, 1, device=device))
    vivid = torch.rand(n, 3, 1, 1, device=device) ** 1.5
    plain = torch.where(torch.rand(n, 1, 1, 1, device=device) < 0.3, vivid, plain)
    slow = functional.interpolate(
        torch.randn(n, 1, 3, 3, device=device), size=(size, size), mode="bicubic", align_corners=True
    )
    grain = functional.interpolate(
        torch.randn(n, 1, size // 2, size // 2, device=device), size=(size, size), mode="bilinear"
    )
    plain = plain * torch.exp(0.15 * slow + _rand(n, 0, 0.1, device)[:, None, None, None] * grain)
    # Stripes and checks, as narrow as stitches or wider.
    line = torch.arange(size, device=device, dtype=torch.float32)
    y, x = torch.meshgrid(line, line, indexing="ij")
    angle = _rand(n, 0, 6.283, device)[:, None, None]
    wide = (pitch * torch.exp(_rand(n, -0.3, 1.6, device)))[:, None, None]
    along = torch.sin(6.2832 * (x * torch.cos(angle) + y * torch.sin(angle)) / wide)
    other = torch.sin(6.2832 * (y * torch.cos(angle) - x * torch.sin(angle)) / wide)
    checks = torch.rand(n, 1, 1, device=device) < 0.5
    pattern = torch.sigmoid(4 * torch.where(checks, along * other, along))[:, None]
    striped = plain * (1 - pattern) + torch.rand(n, 3, 1, 1, device=device) ** 1.5 * pattern
    kind = torch.rand(n, 1, 1, 1, device=device)
    return torch.where(kind < 0.68, picture, torch.where(kind < 0.9, plain, striped)).clamp(0.002, 1.2)


def _recoloured(layer: _Layer, under: torch.Tensor) -> torch.Tensor:
    """The layer's colour with its yarn dyed anew; now and then in the colour of what lies under it."""
    n, device = len(under), under.device
    mix = torch.rand(n, 3, 3, device=device) ** 2 + 1e-3
    mix = mix / mix.sum(dim=2, keepdim=True)
    part = torch.rand(n, 1, 1, device=device) * (torch.rand(n, 1, 1, device=device) < 0.6)
    dye = (1 - part) * torch.eye(3, device=device) + part * mix
    dyed = torch.einsum("bij,bjyx->biyx", dye, layer.colour)
    gain = torch.exp(0.45 * torch.randn(n, 3, 1, 1, device=device) * (torch.rand(n, 1, 1, 1, device=device) < 0.6))
    dyed = dyed * gain * torch.exp(0.3 * torch.randn(n, 1, 1, 1, device=device))
    weight = layer.piece + 1e-4
    own = (dyed * weight).sum(dim=(2, 3), keepdim=True) / weight.sum(dim=(2, 3), keepdim=True)
    around = (under * layer.body).sum(dim=(2, 3), keepdim=True) / (layer.body.sum(dim=(2, 3), keepdim=True) + 1e-4)
    near = around * torch.exp(0.2 * torch.randn(n, 3, 1, 1, device=device)) / (own + 1e-4)
    same = torch.rand(n, 1, 1, 1, device=device) < SAME_COLOUR
    dyed = torch.where(same & (around.mean(dim=1, keepdim=True) > 1e-3), dyed * near.clamp(0.02, 40), dyed)
    yarn = (layer.piece + layer.loose).clamp(0, 1)
    return (dyed * yarn + layer.colour * (1 - yarn)).clamp(0, 1.3)


def _laid(under: torch.Tensor, layer: _Layer) -> torch.Tensor:
    depth = _rand(len(under), 0.6, 1.4, under.device)[:, None, None, None]
    lit = under * layer.shade.clamp(0.02, 3) ** depth
    cover = (layer.piece + layer.thing + layer.loose).clamp(0, 1)
    return lit * (1 - cover) + _recoloured(layer, under) * cover


def _bars(n: int, size: int, device) -> tuple[torch.Tensor, torch.Tensor]:
    """Sticks, fingers and strands over the picture: cover (n, 1, S, S) and colour (n, 3, S, S)."""
    line = torch.arange(size, device=device, dtype=torch.float32)
    y, x = torch.meshgrid(line, line, indexing="ij")
    cover = torch.zeros(n, 1, size, size, device=device)
    colour = torch.zeros(n, 3, size, size, device=device)
    for _ in range(2):
        there = (torch.rand(n, device=device) < 0.22).float()[:, None, None]
        start, end = (torch.rand(n, 2, 1, 1, device=device) * 1.3 * size - 0.15 * size for _ in range(2))
        way = end - start
        share = (((x - start[:, 0]) * way[:, 0] + (y - start[:, 1]) * way[:, 1]) / (way**2).sum(1).clamp(min=1)).clamp(
            0, 1
        )
        bend = torch.randn(n, 1, 1, device=device) * 0.1 * size * torch.sin(3.1416 * share)
        away = torch.hypot(x - start[:, 0] - share * way[:, 0] + bend, y - start[:, 1] - share * way[:, 1])
        half = (torch.exp(_rand(n, -4.6, -2.3, device)) * size)[:, None, None]
        own = ((half - away) + 0.5).clamp(0, 1) * there
        round_shade = (1 - 0.6 * (away / half.clamp(min=1)).clamp(0, 1) ** 2)[:, None]
        skin = (
            torch.tensor([0.62, 0.36, 0.25], device=device)[:, None, None]
            * _rand(n, 0.3, 1.2, device)[:, None, None, None]
        )
        tint = torch.where(
            torch.rand(n, 1, 1, 1, device=device) < 0.4, skin, torch.rand(n, 3, 1, 1, device=device) ** 1.3
        )
        colour = colour * (1 - own[:, None]) + tint * round_shade * own[:, None]
        cover = torch.maximum(cover, own[:, None])
    return cover, colour / cover.clamp(min=1e-3)


def draw_scenes(store: Store, grounds: torch.Tensor, n: int, size: int, diameters: tuple[float, float]) -> Scenes:
    """Draw a batch.

    Parameters
    ----------
    store : Store
    grounds : tensor
        As from :func:`counter.training.finding.store.read_grounds`.
    n : int
        How many pictures.
    size : int
        Side of a picture, pixels.
    diameters : tuple of float
        Least and most diameter of the main pieces, pixels.

    Returns
    -------
    Scenes
    """
    device = store.pixels.device
    low, high = (float(torch.log(torch.tensor(d))) for d in diameters)
    base = float(torch.exp(torch.empty(1).uniform_(low, high)))
    invented = round(INVENTED * n)
    light = _grounds(grounds, n, size, torch.full((n,), base / 12, device=device))
    body = torch.zeros(n, 1, size, size, device=device)
    edge, thing, loose = torch.zeros_like(body), torch.zeros_like(body), torch.zeros_like(body)
    main_across = base * _rand(n, 0.75, 1.3, device)
    room = (0.5 - 0.5 * main_across / size).clamp(min=0.04)[:, None] * size
    main_at = size / 2 + (2 * torch.rand(n, 2, device=device) - 1) * room * 1.15
    for main in (False, False, True):
        if not main and torch.rand(()) > 0.6:
            continue
        across = main_across if main else base * torch.exp(_rand(n, -1.0, 0.2, device))
        index = torch.randint(0, len(store), (n,), device=device)
        squeeze = 1 / torch.where(
            torch.rand(n, device=device) < 0.5, _rand(n, 0.62, 1.0, device), torch.ones(n, device=device)
        )
        stretch = torch.diag_embed(torch.stack([torch.ones_like(squeeze), squeeze], -1))
        mirror = torch.diag_embed(
            torch.stack([torch.ones_like(squeeze), torch.sign(torch.rand_like(squeeze) - 0.5)], -1)
        )
        shape = _turn(_rand(n, 0, 6.283, device)) @ stretch @ _turn(_rand(n, 0, 6.283, device)) @ mirror
        at = main_at
        if not main:
            room = (0.5 - 0.5 * across / size).clamp(min=0.04)[:, None] * size
            apart = size / 2 + (2 * torch.rand(n, 2, device=device) - 1) * room * 1.5
            way = _rand(n, 0, 6.283, device)
            touch = 0.5 * (across + main_across) * _rand(n, 0.85, 1.12, device)
            close = main_at + touch[:, None] * torch.stack([torch.cos(way), torch.sin(way)], -1)
            at = torch.where(torch.rand(n, 1, device=device) < TOUCHING, close, apart)
        level = int(max(0, torch.floor(torch.log2(torch.tensor(SIDE / 1.9 / base))).item()))
        level = min(level, 3)
        to_stored = shape * (store.diameter[index] / across)[:, None, None]
        grid = _grid(size, to_stored, at, store.middle[index], SIDE)
        layer = _stored_layer(store, index, grid, level)
        rim_stored, hidden, stored_at, matrix = store.rim[index], store.hidden[index], store.middle[index], to_stored
        centre_stored, plain = store.centre[index], store.counts[index] > 0
        if invented:
            # Invented discs take the last places of the batch.
            own = slice(n - invented, n)
            discs = draw_discs(invented, DISC_SIDE, device)
            middle = torch.full((invented, 2), DISC_SIDE / 2 - 0.5, device=device)
            to_disc = shape[own] * (DISC / across[own])[:, None, None]
            drawn = _disc_layer(discs, _grid(size, to_disc, at[own], middle, DISC_SIDE), max(0, level - 1))
            for name in ("colour", "piece", "thing", "loose", "body", "shade"):
                getattr(layer, name)[own] = getattr(drawn, name)
            rim_stored, hidden = rim_stored.clone(), hidden.clone()
            rim_stored[own], hidden[own] = discs["rim"], 0.0
            stored_at, matrix, centre_stored, plain = (
                stored_at.clone(),
                matrix.clone(),
                centre_stored.clone(),
                plain.clone(),
            )
            stored_at[own], matrix[own], centre_stored[own] = middle, to_disc, middle
            plain[own] = discs["worked"] & discs["plain"]
        there = torch.ones(n, device=device) if main else (torch.rand(n, device=device) < BESIDE).float()
        for name in ("piece", "thing", "loose", "body"):
            setattr(layer, name, getattr(layer, name) * there[:, None, None, None])
        layer.shade = layer.shade * there[:, None, None, None] + (1 - there[:, None, None, None])
        light = _laid(light, layer)
        cover = (layer.piece + layer.thing + layer.loose).clamp(0, 1)
        solid = (layer.body > 0.5).float()
        wide = max(3, 2 * round(size / 180) + 1)
        band = functional.max_pool2d(solid, wide, 1, wide // 2) + functional.max_pool2d(-solid, wide, 1, wide // 2)
        edge = torch.maximum(edge * (1 - solid), band)
        body = torch.maximum(body, layer.body)
        thing = thing * (1 - cover) + layer.thing
        loose = loose * (1 - cover) + layer.loose
    inverse = torch.linalg.inv(matrix)
    rim = torch.einsum("bij,bkj->bki", inverse, rim_stored - stored_at[:, None]) + at[:, None]
    centre = torch.einsum("bij,bj->bi", inverse, centre_stored - stored_at) + at
    cover, colour = _bars(n, size, device)
    light = light * (1 - cover) + colour * cover
    thing = torch.maximum(thing, cover)
    where = ((rim + 0.5) / size * 2 - 1)[:, None]
    covered = _sampled(cover, where, "zeros")[:, 0, 0] > 0.5
    outside = (where.abs() > 0.995).any(dim=-1)[:, 0]
    hidden = torch.maximum(hidden, (covered | outside).float())
    return Scenes(light, body, edge, thing, loose, centre, rim, hidden, plain)


def _blurred(picture: torch.Tensor, spread: torch.Tensor) -> torch.Tensor:
    """Every picture of a batch with a blur of its own."""
    n, channels = picture.shape[:2]
    far = torch.arange(-4, 5, device=picture.device, dtype=torch.float32)
    kernel = torch.exp(-0.5 * (far[None] / spread[:, None].clamp(min=0.05)) ** 2)
    kernel = (kernel / kernel.sum(dim=1, keepdim=True)).repeat_interleave(channels, 0)
    flat = functional.pad(picture, (4, 4, 4, 4), mode="reflect").reshape(1, n * channels, picture.shape[2] + 8, -1)
    flat = functional.conv2d(flat, kernel[:, None, :, None], groups=n * channels)
    flat = functional.conv2d(flat, kernel[:, None, None, :], groups=n * channels)
    return flat.view(picture.shape)


def _compressed(picture: torch.Tensor) -> torch.Tensor:
    """Pictures as a JPEG file leaves them: cosine coefficients of blocks of 8 pixels, rounded."""
    n, _, height, width = picture.shape
    device = picture.device
    k = torch.arange(8, device=device, dtype=torch.float32)
    basis = torch.cos((2 * k[None] + 1) * k[:, None] * torch.pi / 16) * torch.where(k[:, None] == 0, 0.5**1.5, 0.5)
    high, wide = height // 8 * 8, width // 8 * 8
    blocks = picture[..., :high, :wide].reshape(n, 3, high // 8, 8, wide // 8, 8).permute(0, 1, 2, 4, 3, 5)
    spectrum = basis @ blocks @ basis.T
    step = torch.exp(_rand(n, -6.5, -2.6, device)).view(n, 1, 1, 1, 1, 1) * (1 + 0.35 * (k[:, None] + k[None]))
    # Rounding has no slope to learn from, and none is needed.
    spectrum = torch.round(spectrum / step) * step
    blocks = basis.T @ spectrum @ basis
    out = picture.clone()
    out[..., :high, :wide] = blocks.permute(0, 1, 2, 4, 3, 5).reshape(n, 3, high, wide)
    return out


def photographed(light: torch.Tensor) -> torch.Tensor:
    """Photos of what is drawn, sRGB 0 to 1, shape as given."""
    n, device, size = len(light), light.device, light.shape[-1]

    def one(low, high):
        return _rand(n, low, high, device)[:, None, None, None]

    mean = light.clamp(min=1e-4).log().mean(dim=(1, 2, 3), keepdim=True).exp()
    bright = torch.where(torch.rand(n, 1, 1, 1, device=device) < 0.2, one(-3.2, 0.2), one(-2.0, -0.8)).exp()
    picture = light * bright / mean.clamp(min=0.01)
    picture = picture * torch.exp(0.1 * torch.randn(n, 3, 1, 1, device=device))
    slow = functional.interpolate(
        torch.randn(n, 1, 2, 2, device=device), size=(size, size), mode="bilinear", align_corners=True
    )
    picture = picture * torch.exp(0.3 * one(0, 1) * slow)
    spread = torch.where(torch.rand(n, device=device) < 0.5, torch.zeros(n, device=device), _rand(n, 0.2, 1.8, device))
    picture = _blurred(picture, spread)
    noise = one(0, 1) ** 3 * 0.08
    picture = picture + noise * torch.sqrt(picture.clamp(min=1e-4)) * torch.randn_like(picture)
    sharp = one(0, 1) * (torch.rand(n, 1, 1, 1, device=device) < 0.4)
    picture = picture + sharp * (picture - functional.avg_pool2d(picture, 3, 1, 1))
    picture = picture.clamp(1e-4, None)
    picture = torch.where(picture > 0.7, 0.7 + 0.3 * (1 - torch.exp(-(picture - 0.7) / 0.3)), picture)
    shown = picture ** (1 / 2.2)
    shown = shown + one(-0.2, 0.6) * (shown * shown * (3 - 2 * shown) - shown)
    grey = shown.mean(dim=1, keepdim=True)
    shown = grey + one(0.5, 1.4) * (shown - grey)
    shown = torch.where(torch.rand(n, 1, 1, 1, device=device) < 0.6, _compressed(shown), shown)
    return (shown.clamp(0, 1) * 255).round() / 255


def polar(
    picture: torch.Tensor, scenes: Scenes, rows: int, columns: int, depths: tuple[float, float], again: int
) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor, torch.Tensor]:
    """Main pieces laid straight round an ellipse that misses a little, and where their rim runs.

    Parameters
    ----------
    picture : tensor of shape (B, 3, S, S)
    scenes : Scenes
        They show.
    rows, columns : int
        Of the straight pictures.
    depths : tuple of float
        Distance of the first and last row from the middle, in radii of the ellipse.
    again : int
        Columns that are shown again on either side, for the rim is closed.

    Returns
    -------
    straight : tensor of shape (B, 3, rows, columns + 2 * again)
    row : tensor of shape (B, columns)
        Row where the rim runs.
    seen : tensor of shape (B, columns)
        1 where it is in view.
    use : tensor of shape (B, columns)
        1 where it is known.
    """
    n, device, size = len(picture), picture.device, picture.shape[-1]
    middle = scenes.rim.mean(dim=1)
    away = scenes.rim - middle[:, None]
    spread = torch.einsum("bki,bkj->bij", away, away) / POINTS * 2 + 1e-3 * torch.eye(2, device=device)
    values, vectors = torch.linalg.eigh(spread)
    ellipse = vectors @ torch.diag_embed(values.clamp(min=1e-3).sqrt()) @ vectors.transpose(1, 2)
    wrong = torch.exp(0.06 * torch.randn(n, 1, 1, device=device))
    ellipse_wrong = ellipse @ (torch.eye(2, device=device) + 0.05 * torch.randn(n, 2, 2, device=device)) * wrong
    middle = middle + torch.einsum("bij,bj->bi", ellipse, 0.06 * torch.randn(n, 2, device=device))
    start = torch.rand(n, 1, device=device)
    turn = ((torch.arange(-again, columns + again, device=device) + 0.5) / columns)[None] + start
    far = torch.linspace(depths[0], depths[1], rows, device=device)
    ray = torch.stack([torch.sin(6.283185 * turn), -torch.cos(6.283185 * turn)], -1)
    unit = far[None, :, None, None] * ray[:, None]
    places = torch.einsum("bij,brcj->brci", ellipse_wrong, unit) + middle[:, None, None]
    straight = _sampled(picture, (places + 0.5) / size * 2 - 1, "border")
    back = torch.einsum("bij,bkj->bki", torch.linalg.inv(ellipse_wrong), scenes.rim - middle[:, None])
    radius = torch.linalg.norm(back, dim=-1)
    angle = torch.remainder(torch.atan2(back[..., 0], -back[..., 1]) / 6.283185 - start, 1.0)
    column = (angle * columns).long().clamp(0, columns - 1)
    rim = torch.full((n, columns), -1.0, device=device).scatter_reduce(1, column, radius, "amax")
    hidden = torch.zeros(n, columns, device=device).scatter_reduce(1, column, scenes.hidden, "amax")
    for _ in range(4):
        missing = rim < 0
        close = torch.maximum(torch.roll(rim, 1, 1), torch.roll(rim, -1, 1))
        rim = torch.where(missing, close, rim)
        hidden = torch.where(missing, torch.maximum(torch.roll(hidden, 1, 1), torch.roll(hidden, -1, 1)), hidden)
    row = (rim - depths[0]) / (depths[1] - depths[0]) * (rows - 1)
    use = (rim > 0) & (row > 1) & (row < rows - 2) & scenes.plain[:, None]
    return straight, row, (1 - hidden) * use, use.float()

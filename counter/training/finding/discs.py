"""Invented discs: what any fabric worked in rounds has in common, and what has only part of it.

No yarn is modelled. A disc is a relief that repeats along the rounds as often
as the round has stitches, and from round to round; its tile is random, so that
every disc is a look of its own. Openwork leaves holes, edges may be scalloped.
Discs that repeat only along or only across the rounds, or not at all, or lie
there in straight rows, are what a piece is not.
"""

from __future__ import annotations

import torch

from counter.training.finding.store import POINTS

__all__ = ["draw_discs"]


def _uniform(n: int, low: float, high: float, device) -> torch.Tensor:
    return low + (high - low) * torch.rand(n, device=device)


def draw_discs(n: int, side: int, device) -> dict[str, torch.Tensor]:
    """Draw discs.

    Parameters
    ----------
    n : int
        How many.
    side : int
        Of the pictures, pixels; a disc fills two thirds of its picture.
    device : torch.device or str

    Returns
    -------
    dict of tensor
        "colour" (n, 3, side, side), linear 0 to 1; "cover" (n, 1, side, side), 0 to 1, with holes;
        "body" the same without holes; "worked" (n,), bool; "rim" (n, POINTS, 2), pixels;
        "plain" (n,), bool, where the edge is not scalloped.
    """
    line = (torch.arange(side, device=device) + 0.5) / side * 2 - 1
    y, x = torch.meshgrid(line, line, indexing="ij")
    x, y = x[None] * 1.5, y[None] * 1.5

    def column(value):
        return value[:, None, None]

    # A centre ring that is a little off, and an outline that is not quite a circle.
    off = 0.12 * torch.randn(n, 2, device=device) * (torch.rand(n, 1, device=device) < 0.6)
    waves = 0.02 * torch.randn(n, 3, device=device)
    phases = _uniform(3 * n, 0, 6.283, device).view(n, 3)
    lobes = torch.round(_uniform(n, 5, 24, device))
    scallop = _uniform(n, 0.02, 0.3, device) * (torch.rand(n, device=device) < 0.4)

    def edge(angle: torch.Tensor) -> torch.Tensor:
        """Radius of the outline in each direction; angle of shape (n, a, b)."""
        radius = torch.ones_like(angle)
        for index, wave in enumerate((2, 3, 5)):
            radius = radius * (1 + column(waves[:, index]) * torch.cos(wave * angle + column(phases[:, index])))
        bow = torch.abs(torch.cos(0.5 * column(lobes) * angle))
        return radius * (1 - column(scallop) * (1 - bow))

    share = torch.sqrt(x**2 + y**2) / edge(torch.atan2(y, x).expand(n, side, side))
    turn = (torch.arange(POINTS, device=device) / POINTS * 6.283185).expand(n, 1, POINTS)
    far = edge(turn)
    rim = torch.stack([far * torch.cos(turn), far * torch.sin(turn)], dim=-1)[:, 0]
    rim = (rim / 1.5 + 1) * side / 2 - 0.5
    angle = torch.atan2(y - column(off[:, 1]) * (1 - share), x - column(off[:, 0]) * (1 - share))

    rounds = torch.round(torch.exp(_uniform(n, 0.7, 2.9, device)))
    added = torch.round(_uniform(n, 4, 14, device))
    depth = (1 - share).clamp(min=-0.2) * column(rounds)
    number = torch.floor(depth)
    of_round = (column(rounds) - number).clamp(min=1)
    stitches = torch.round(column(added) * of_round)
    spiral = column((torch.rand(n, device=device) < 0.6).float())
    drift = column(_uniform(n, -0.5, 0.5, device))
    wobble = 0.25 * torch.sin(3 * angle + column(_uniform(n, 0, 6.283, device)))
    along = angle / 6.2832
    across = depth + spiral * along
    kind = torch.randint(0, 10, (n,), device=device)
    worked = kind < 6
    rings_only, spokes_only, rows = column(kind == 6), column(kind == 7), column(kind == 8)
    u = along * stitches + drift * number + wobble
    v = across - torch.floor(across)
    u = torch.where(rings_only, torch.zeros_like(u), u)
    u = torch.where(spokes_only, along * column(torch.round(_uniform(n, 3, 30, device))), u)
    v = torch.where(spokes_only, torch.zeros_like(v), v)
    pitch = column(_uniform(n, 4, 26, device))
    turn = column(_uniform(n, 0, 6.283, device))
    # Half of those in rows are round like a ball seen from the side.
    ball = rows & column(torch.rand(n, device=device) < 0.5)
    high = (y / 1.02).clamp(-1, 1).expand(n, side, side)
    round_y = torch.asin(high)
    round_x = torch.asin((x / (1.02 * torch.sqrt((1 - high**2).clamp(min=0.02)))).clamp(-1, 1))
    x, y = torch.where(ball, round_x, x.expand(n, side, side)), torch.where(ball, round_y, high * 1.02)
    u = torch.where(rows, (x * torch.cos(turn) + y * torch.sin(turn)) * pitch, u)
    v = torch.where(rows, torch.remainder((y * torch.cos(turn) - x * torch.sin(turn)) * pitch, 1.0), v)

    relief = torch.zeros_like(share.expand(n, side, side))
    # Slanted arms that meet, as the two strands of a V do.
    arms = column(_uniform(n, -0.8, 0.8, device)) * torch.abs(v - 0.5) + column(_uniform(n, -0.5, 0.5, device)) * v
    for wave in (1, 2, 3):
        size = column(torch.randn(n, device=device) * (1.0, 0.6, 0.3)[wave - 1])
        where = torch.exp(
            -0.5 * ((v - column(_uniform(n, 0.2, 0.8, device))) / column(_uniform(n, 0.15, 0.6, device))) ** 2
        )
        relief = relief + size * where * torch.cos(6.2832 * wave * (u + arms) + column(_uniform(n, 0, 6.283, device)))
    relief = relief + column(_uniform(n, 0.3, 1.2, device)) * torch.sin(3.1416 * v)
    smooth = column((kind == 9).float())
    relief = relief * (1 - smooth)
    noise = torch.nn.functional.interpolate(
        torch.randn(n, 1, side // 2, side // 2, device=device), size=(side, side), mode="bilinear"
    )[:, 0]
    fine = torch.randn(n, side, side, device=device)
    relief = relief + column(_uniform(n, 0.05, 0.4, device)) * noise + column(_uniform(n, 0.0, 0.25, device)) * fine
    low, high = relief.amin(dim=(1, 2), keepdim=True), relief.amax(dim=(1, 2), keepdim=True)
    height = (relief - low) / (high - low + 1e-6)

    gx, gy = torch.zeros_like(height), torch.zeros_like(height)
    gx[:, :, 1:-1] = height[:, :, 2:] - height[:, :, :-2]
    gy[:, 1:-1] = height[:, 2:] - height[:, :-2]
    light = _uniform(n, 0, 6.283, device)
    slope = column(torch.cos(light)) * gx + column(torch.sin(light)) * gy
    steep = column(_uniform(n, 1.0, 5.0, device))
    hollow = column(_uniform(n, 0.2, 0.9, device))
    shading = (1 - hollow + hollow * height) * (1 + steep * slope).clamp(0.25, 2.0)
    # One to four colours, by rounds.
    palette = torch.rand(n, 4, 3, device=device) ** 1.6
    palette = palette * 0.7 + 0.3 * palette.mean(dim=2, keepdim=True)
    plain = torch.rand(n, device=device) < 0.5
    palette[plain] = palette[plain][:, :1]
    order = torch.randint(0, 4, (n, 64), device=device)
    which = order.gather(1, number.clamp(0, 63).long().view(n, -1))
    colour = palette.gather(1, which[..., None].expand(-1, -1, 3)).view(n, side, side, 3).permute(0, 3, 1, 2)
    colour = (colour * shading[:, None]).clamp(0, 1)
    sharp = side / 3.0
    body = ((1 - share) * sharp + 0.5).clamp(0, 1)
    open_work = (torch.rand(n, device=device) < 0.4) & worked
    level = torch.quantile(height.flatten(1)[:, ::17], 0.6, dim=1) * _uniform(n, 0.4, 1.1, device)
    holes = ((column(level) - height) * 12).clamp(0, 1) * column(open_work.float())
    ring = (share < column(_uniform(n, 0.0, 0.12, device))).float() * column(
        (torch.rand(n, device=device) < 0.4).float()
    )
    cover = body * (1 - torch.maximum(holes, ring))
    return {
        "colour": colour,
        "cover": cover[:, None],
        "body": body[:, None],
        "worked": worked,
        "rim": rim,
        "plain": scallop < 0.03,
    }

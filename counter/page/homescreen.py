"""What a phone asks for to put the page on its home screen: a manifest and an icon."""

from __future__ import annotations

import io
import json
from functools import lru_cache

from PIL import Image, ImageDraw

from counter.basics import words

__all__ = ["FILES", "file_of", "round_picture"]

TEAL, CREAM = (47, 143, 134), (251, 248, 243)
#: Sides of the icons, in pixels, as phones want them (W3C, Web App Manifest).
ICON_SIDES_PX = (192, 512)
#: Paths, and what kind of file is there.
FILES = {
    "/manifest.webmanifest": "application/manifest+json",
    **{f"/icon-{side}.png": "image/png" for side in ICON_SIDES_PX},
}


def round_picture(side: int, ground: tuple[int, int, int] | None = None) -> Image.Image:
    """A round of crochet as a sign.

    Parameters
    ----------
    side : int
        In pixels.
    ground : tuple of int, optional
        Behind it, sRGB; without one it is transparent.

    Returns
    -------
    Image
    """
    picture = Image.new("RGBA", (512, 512), (*ground, 255) if ground else (0, 0, 0, 0))
    draw = ImageDraw.Draw(picture)
    # On a ground it keeps clear of the edge, which a phone may cut round (the inner 80% stay).
    share = 0.72 if ground else 1.0
    reach = 48 * share
    draw.ellipse((256 - reach, 256 - reach, 256 + reach, 256 + reach), fill=TEAL)
    for radius, stitches in ((128, 6), (216, 12)):
        away = radius * share
        box = (256 - away, 256 - away, 256 + away, 256 + away)
        for stitch in range(stitches):
            turn = 360 * stitch / stitches
            draw.arc(box, turn, turn + 220 / stitches, fill=TEAL, width=round(48 * share))
    return picture.resize((side, side), Image.Resampling.LANCZOS)


@lru_cache
def file_of(path: str) -> bytes:
    """The file that is at one of the paths of :data:`FILES`."""
    if path.endswith(".png"):
        side = int(path.removesuffix(".png").rpartition("-")[2])
        file = io.BytesIO()
        round_picture(side, CREAM).convert("RGB").save(file, "PNG")
        return file.getvalue()
    manifest = {
        "name": words.TITLE,
        "short_name": words.TITLE,
        "description": words.LEAD,
        "start_url": "./",
        "scope": "./",
        "display": "standalone",
        "background_color": "#fbf8f3",
        "theme_color": "#1f6a63",
        "icons": [
            {"src": f"icon-{side}.png", "sizes": f"{side}x{side}", "type": "image/png", "purpose": "any maskable"}
            for side in ICON_SIDES_PX
        ],
    }
    return json.dumps(manifest).encode()

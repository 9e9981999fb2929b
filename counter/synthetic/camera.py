"""A phone held over the table, and what it does to the light that it gets."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

__all__ = ["Camera", "Finish", "aimed", "develop", "to_srgb"]


@dataclass(frozen=True, eq=False)
class Camera:
    """A pinhole camera without distortion.

    Parameters
    ----------
    position : ndarray of shape (3,), float
        Of the lens, mm; the table is z = 0.
    target : ndarray of shape (3,), float
        Point in the middle of the picture, mm.
    up : ndarray of shape (3,), float
        Direction that is up in the picture (need not be square to the view).
    focal : float
        Focal length in pixels.
    size : tuple of int
        (width, height) of the picture in pixels.
    aperture : float
        Radius of the lens opening, mm; 0 for everything sharp.
    focus : float
        Distance of the sharp plane along the view, mm.
    """

    position: np.ndarray
    target: np.ndarray
    up: np.ndarray
    focal: float
    size: tuple[int, int]
    aperture: float = 0.0
    focus: float = 300.0

    @property
    def rotation(self) -> np.ndarray:
        """World to camera, rows x (right), y (down), z (forward); shape (3, 3)."""
        forward = self.target - self.position
        forward = forward / np.linalg.norm(forward)
        right = np.cross(forward, self.up)
        right /= np.linalg.norm(right)
        return np.stack([right, np.cross(forward, right), forward])

    @property
    def middle(self) -> np.ndarray:
        """(x, y) of the middle of the picture; the top-left pixel's centre is (0, 0)."""
        return (np.asarray(self.size, dtype=float) - 1) / 2

    def project(self, points: np.ndarray) -> np.ndarray:
        """Where points of the world fall in the picture.

        Parameters
        ----------
        points : ndarray of shape (..., 3), float
            mm.

        Returns
        -------
        ndarray of shape (..., 2), float
            (x right, y down) in pixels.
        """
        seen = (np.asarray(points, dtype=float) - self.position) @ self.rotation.T
        return self.focal * seen[..., :2] / seen[..., 2:] + self.middle


def aimed(
    radius: float,
    size: tuple[int, int],
    *,
    share: float,
    tilt: float,
    azimuth: float,
    roll: float,
    offset: tuple[float, float],
    lens: float,
    lift: float = 0.0,
    aperture: float = 0.0,
) -> Camera:
    """Aim a camera at a piece that lies at the origin.

    Parameters
    ----------
    radius : float
        Of the piece, mm.
    size : tuple of int
        (width, height) of the picture in pixels.
    share : float
        Diameter of the piece over the short side of the picture.
    tilt : float
        Angle between the view and the plumb line, radians.
    azimuth, roll : float
        Where the camera leans to, and how it is turned about its view, radians.
    offset : tuple of float
        Where the piece lies, as shares of the short side from the middle, (x, y).
    lens : float
        Focal length over the long side of the picture.
    lift : float
        Height of the rim over the table, mm; the camera aims at it.
    aperture : float
        Radius of the lens opening over the distance.

    Returns
    -------
    Camera
    """
    short, focal = min(size), lens * max(size)
    distance = focal * radius / (0.5 * share * short)
    lean = np.array([np.sin(tilt) * np.cos(azimuth), np.sin(tilt) * np.sin(azimuth), np.cos(tilt)])
    aim = np.array([0.0, 0.0, lift])
    up = np.array([-np.sin(roll), np.cos(roll), 0.0])
    camera = Camera(aim + distance * lean, aim, up, focal, size)
    # Move camera and target together along the table until the piece is where it should be.
    shift = np.asarray(offset, dtype=float) * short * distance / focal
    ground = shift[0] * camera.rotation[0] + shift[1] * camera.rotation[1]
    ground[2] = 0.0
    return Camera(camera.position - ground, aim - ground, up, focal, size, aperture * distance, float(distance))


@dataclass(frozen=True)
class Finish:
    """What the camera makes of the light.

    Parameters
    ----------
    exposure : float
        Brightness of the middle tone that the camera aims at, linear, 0.03 to 0.8.
    white : tuple of float
        Gain of red, green and blue (a wrong white balance).
    vignette : float
        Loss of light in the corners, 0 to 0.5.
    noise : float
        Strength of shot noise at full brightness, 0 to 0.06.
    read_noise : float
        Noise in the dark, linear, 0 to 0.01.
    blur : float
        Spread of a soft focus, in thousandths of the long side.
    shake : tuple of float
        (length in thousandths of the long side, angle in radians) of a hand that moved.
    sharpen : float
        Strength of the phone's sharpening, 0 to 1.
    contrast : float
        Strength of the tone curve, 0 to 0.6.
    saturation : float
        0.7 to 1.3.
    quality : int
        Of the JPEG file, 40 to 95.
    headroom : float
        How far the brightest parts may go beyond white, 1.15 (a careful phone)
        to 4 (overexposed).
    zoom : float
        Digital zoom: the picture holds this many times fewer pixels than it shows, 1 to 3.
    """

    exposure: float = 0.2
    white: tuple[float, float, float] = (1.0, 1.0, 1.0)
    vignette: float = 0.1
    noise: float = 0.01
    read_noise: float = 0.001
    blur: float = 0.0
    shake: tuple[float, float] = (0.0, 0.0)
    sharpen: float = 0.3
    contrast: float = 0.2
    saturation: float = 1.0
    quality: int = 88
    headroom: float = 1.15
    zoom: float = 1.0


def to_srgb(linear: np.ndarray) -> np.ndarray:
    """Linear light to sRGB, both 0 to 1 (IEC 61966-2-1)."""
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 1e-6) ** (1 / 2.4) - 0.055)


def _moved(length: float, angle: float) -> np.ndarray:
    half = int(np.ceil(length / 2))
    kernel = np.zeros((2 * half + 1, 2 * half + 1), np.float32)
    for t in np.linspace(-length / 2, length / 2, 8 * half + 9):
        kernel[round(half + t * np.sin(angle)), round(half + t * np.cos(angle))] += 1
    return kernel / kernel.sum()


def develop(light: np.ndarray, finish: Finish, rng: np.random.Generator) -> np.ndarray:
    """Turn rendered light into a photo.

    Parameters
    ----------
    light : ndarray of shape (H, W, 3), float32
        Linear RGB, any scale.
    finish : Finish
    rng : numpy.random.Generator
        The noise.

    Returns
    -------
    ndarray of shape (H, W, 3), uint8
        sRGB.
    """
    height, width = light.shape[:2]
    long = max(height, width)
    grey = light @ np.array([0.2126, 0.7152, 0.0722], np.float32)
    # Meter as a phone does: the log mean sets the exposure, the highlights limit it.
    middle = float(np.exp(np.mean(np.log(np.maximum(grey, 1e-5)))))
    gain = finish.exposure / max(middle, 1e-5)
    gain = min(gain, finish.headroom / max(float(np.percentile(grey, 97)), 1e-5))
    picture = np.maximum(light, 0) * (gain * np.asarray(finish.white, np.float32))
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    far = ((x - width / 2) ** 2 + (y - height / 2) ** 2) / (0.25 * (width**2 + height**2))
    picture *= (1 - finish.vignette * far)[..., None]
    if finish.zoom > 1:
        held = (max(1, round(width / finish.zoom)), max(1, round(height / finish.zoom)))
        picture = cv2.resize(picture, held, interpolation=cv2.INTER_AREA)
        long = max(held)
    if finish.blur > 0:
        picture = cv2.GaussianBlur(picture, (0, 0), finish.blur * 1e-3 * long)
    if finish.shake[0] * 1e-3 * long > 1.5:
        picture = cv2.filter2D(picture, -1, _moved(finish.shake[0] * 1e-3 * long, finish.shake[1]))
    spread = np.sqrt(np.maximum(picture, 0) * finish.noise**2 + finish.read_noise**2)
    grain = rng.normal(size=picture.shape).astype(np.float32)
    # Sensors mix neighbours when they fill in colours, so the grain is not white.
    grain = 0.6 * grain + 0.9 * cv2.GaussianBlur(grain, (0, 0), 0.9)
    picture = picture + spread * grain
    if finish.sharpen > 0:
        soft = cv2.GaussianBlur(picture, (0, 0), max(0.8, 0.9e-3 * long))
        picture = picture + finish.sharpen * (picture - soft)
    picture = np.maximum(picture, 0)
    if finish.zoom > 1:
        picture = np.maximum(cv2.resize(picture, (width, height), interpolation=cv2.INTER_CUBIC), 0)
    # Roll the highlights off instead of cutting them.
    picture = np.where(picture > 0.7, 0.7 + 0.3 * (1 - np.exp(-(picture - 0.7) / 0.3)), picture)
    shown = to_srgb(picture).astype(np.float32)
    shown = shown + finish.contrast * (shown * shown * (3 - 2 * shown) - shown)
    mean = shown.mean(axis=2, keepdims=True)
    shown = mean + finish.saturation * (shown - mean)
    return np.clip(shown * 255 + 0.5, 0, 255).astype(np.uint8)

"""Path tracing of a scene, and the photo that comes of it."""

from __future__ import annotations

import ctypes
import ctypes.util
import glob
import os
import re

import numpy as np

from counter.synthetic.camera import develop
from counter.synthetic.props import Part
from counter.synthetic.scene import Scene, SceneRequest, compose
from counter.synthetic.wide import compose_wide

__all__ = ["Traced", "hidden_marks", "render_photo", "trace"]

#: Where things cover more of a rim than this, a photo for training is taken without them.
MOST_HIDDEN_SHARE = 0.4

_MISSING = "Rendering needs the path tracer: pip install 'rimtally[render]'"


def _new_enough(library: str) -> bool:
    # LLVMGetVersion came with LLVM 16; older ones abort the whole process
    # when they meet instructions that the path tracer's compiler emits.
    try:
        return hasattr(ctypes.CDLL(library), "LLVMGetVersion")
    except OSError:
        return False


def _llvm() -> str | None:
    """Path of an LLVM library that the vectorised tracer can use, or None."""
    named = os.environ.get("DRJIT_LIBLLVM_PATH")
    if named:
        return named if _new_enough(named) else None
    found = [
        p
        for folder in ("/usr/lib/*", "/usr/lib64", "/usr/lib/llvm-*/lib", "/usr/local/lib")
        for p in glob.glob(f"{folder}/libLLVM*.so*")
    ]
    numbered = []
    for path in found:
        version = re.search(r"libLLVM(?:-|\.so\.)(\d+)", os.path.basename(path))
        if version and int(version[1]) >= 16:
            numbered.append((int(version[1]), path))
    for _, path in sorted(numbered):
        if _new_enough(path):
            return path
    return None


def _tracer():
    """Mitsuba with the fastest variant that works here."""
    try:
        import mitsuba as mi
    except ImportError as error:
        raise ImportError(_MISSING) from error
    if mi.variant() is None:
        if os.path.exists("/dev/nvidia0"):
            mi.set_variant("cuda_ad_rgb")
        else:
            library = _llvm()
            if library:
                os.environ["DRJIT_LIBLLVM_PATH"] = library
            mi.set_variant("llvm_ad_rgb" if library else "scalar_rgb")
        mi.set_log_level(mi.LogLevel.Error)
    return mi


def _denoised(colour: np.ndarray, albedo: np.ndarray, normal: np.ndarray) -> np.ndarray:
    try:
        import pyoidn
    except ImportError as error:
        raise ImportError(_MISSING) from error
    return pyoidn.denoise(
        np.ascontiguousarray(colour, np.float32),
        np.ascontiguousarray(np.clip(albedo, 0, 1), np.float32),
        np.ascontiguousarray(np.clip(normal, -1, 1), np.float32),
        hdr=True,
    )


def _surface(mi, finish: str):
    colour = {"type": "mesh_attribute", "name": "vertex_color"}
    if finish == "metal":
        inner = {"type": "roughconductor", "alpha": 0.25, "specular_reflectance": colour}
    elif finish in ("plastic", "skin", "sheen"):
        # "sheen" is mercerised cotton: a soft highlight along every strand.
        rough = {"plastic": 0.3, "skin": 0.5, "sheen": 0.38}[finish]
        inner = {
            "type": "principled",
            "base_color": colour,
            "roughness": rough,
            "specular": 0.8 if finish == "sheen" else 0.5,
        }
    else:
        inner = {"type": "diffuse", "reflectance": colour}
    return mi.load_dict({"type": "twosided", "inner": inner})


def _shape(mi, part: Part):
    options = mi.Properties()
    options["bsdf"] = _surface(mi, part.finish)
    mesh = mi.Mesh(
        part.name, len(part.mesh.points), len(part.mesh.faces), props=options, has_vertex_normals=part.name != "ruler"
    )
    mesh.add_attribute("vertex_color", 3, part.mesh.colours.ravel())
    values = mi.traverse(mesh)
    values["vertex_positions"] = part.mesh.points.ravel()
    values["faces"] = part.mesh.faces.ravel()
    values.update()
    return mesh


class Traced:
    """A scene loaded into the path tracer.

    Parameters
    ----------
    scene : Scene
    """

    def __init__(self, scene: Scene) -> None:
        mi = self._mi = _tracer()
        self.scene = scene
        camera = scene.camera
        world: dict[str, object] = {"type": "scene"}
        look = mi.ScalarTransform4f
        for part in scene.parts:
            key = re.sub(r"\W", "_", part.name)
            world[key] = _shape(mi, part)
        world["table"] = {
            "type": "rectangle",
            "to_world": look().scale([scene.ground_half, scene.ground_half, 1.0]),
            "surface": {
                "type": "diffuse",
                "reflectance": {
                    "type": "bitmap",
                    "bitmap": mi.Bitmap(scene.ground),
                    "raw": True,
                    "filter_type": "bilinear",
                },
            },
        }
        world["room"] = {"type": "constant", "radiance": {"type": "rgb", "value": list(scene.ambient)}}
        for i, light in enumerate(scene.lights):
            place = np.asarray(light.position)
            far = float(np.linalg.norm(place))
            # Radiance that gives the wanted light at the origin: E = L A cos / d^2.
            strength = far**2 / (light.width**2 * (place[2] / far))
            world[f"light{i}"] = {
                "type": "rectangle",
                "to_world": look()
                .look_at(origin=list(light.position), target=[0, 0, 0], up=[0.01, 0.02, 1])
                .scale(light.width / 2),
                "emitter": {
                    "type": "area",
                    "radiance": {"type": "rgb", "value": [strength * p * np.pi for p in light.power]},
                },
            }
        width, height = camera.size
        sensor = {
            "type": "thinlens" if camera.aperture > 0 else "perspective",
            "fov": float(np.degrees(2 * np.arctan(0.5 * width / camera.focal))),
            "fov_axis": "x",
            "near_clip": 1.0,
            "far_clip": 1e5,
            "to_world": look().look_at(
                origin=camera.position.tolist(), target=camera.target.tolist(), up=camera.up.tolist()
            ),
            "film": {
                "type": "hdrfilm",
                "width": width,
                "height": height,
                "rfilter": {"type": "box"},
                "pixel_format": "rgb",
                "component_format": "float32",
            },
            "sampler": {"type": "independent"},
        }
        sharp = {**sensor, "type": "perspective"}
        if camera.aperture > 0:
            sensor |= {"aperture_radius": camera.aperture, "focus_distance": camera.focus}
        self._lens = sensor
        self._sharp = mi.load_dict(sharp)
        self._world = mi.load_dict(world, optimize=False)
        # The tracer numbers shapes in its own order and goes on from scenes that
        # are still in use; 0 is the empty room.
        keys = [re.sub(r"\W", "_", part.name) for part in scene.parts]
        ids = [shape.id() for shape in self._world.shapes()]
        numbers = np.arange(1, len(ids) + 1)
        if not mi.variant().startswith("scalar"):
            import drjit

            numbers = np.array(drjit.reinterpret_array(mi.UInt32, self._world.shapes_dr()))
        self._part_of = np.full(int(numbers.max()) + 1, len(keys))
        self._part_of[numbers] = [keys.index(i) if i in keys else len(keys) for i in ids]

    def _piece_box(self) -> tuple[int, int, int, int]:
        """Left, top, width and height of the part of the picture that holds the piece and its close surroundings."""
        camera = self.scene.camera
        seen = camera.project(self.scene.parts[0].mesh.points[::7].astype(float))
        room = 0.06 * np.ptp(seen, axis=0) + 4
        most = np.asarray(camera.size)
        low = np.clip(np.floor(seen.min(axis=0) - room), 0, most - 8).astype(int)
        high = np.clip(np.ceil(seen.max(axis=0) + room), low + 8, most).astype(int)
        return int(low[0]), int(low[1]), int(high[0] - low[0]), int(high[1] - low[1])

    def _raw(
        self, integrator: dict, samples: int, seed: int, box: tuple[int, int, int, int] | None = None
    ) -> np.ndarray:
        """What an integrator sees in the box, or in the whole picture; shape (H, W, channels)."""
        mi = self._mi
        film = dict(self._lens["film"])
        if box:
            film |= dict(zip(("crop_offset_x", "crop_offset_y", "crop_width", "crop_height"), box, strict=False))
        sensor = mi.load_dict({**self._lens, "film": film})
        raw = np.array(
            mi.render(self._world, sensor=sensor, integrator=mi.load_dict(integrator), spp=samples, seed=seed)
        )
        return np.nan_to_num(raw, posinf=0.0, neginf=0.0)

    def light(self, samples: int, seed: int, outside: int | None = None) -> np.ndarray:
        """Denoised light in the picture; shape (H, W, 3), float32, linear RGB.

        Parameters
        ----------
        samples : int
            Paths for each pixel.
        seed : int
            Of the paths.
        outside : int or None
            Paths for each pixel away from the piece, where fewer than
            `samples` will do; the denoiser then gets coarser guides, too.
        """
        path = {"type": "path", "max_depth": 5, "rr_depth": 3, "hide_emitters": True}
        guides = {"type": "aov", "aovs": "a:albedo,n:sh_normal"}
        if outside is None:
            raw = self._raw({**guides, "path": path}, samples, seed)[..., -9:]
            return _denoised(raw[..., :3], raw[..., 3:6], raw[..., 6:9])
        # Guides cost as much as light does, and two samples of them are enough.
        path["rr_depth"] = 2
        few = min(outside, samples) if len(self.scene.marks) else samples
        if np.prod(self.scene.camera.size) < 200_000:
            # The tracer compiles a program for every pass, which takes longer than tracing a small picture.
            few = samples
        light = self._raw(path, few, seed)
        if few < samples:
            left, top, width, height = box = self._piece_box()
            more = self._raw(path, samples - few, (seed + 1) % 2**31, box)
            inner = light[top : top + height, left : left + width]
            inner += (more - inner) * ((samples - few) / samples)
        guide = self._raw(guides, 2, (seed + 2) % 2**31)[..., -6:]
        return _denoised(light, guide[..., :3], guide[..., 3:6])

    def depth(self) -> tuple[np.ndarray, np.ndarray]:
        """What each pixel sees through a pinhole.

        Returns
        -------
        distance : ndarray of shape (H, W), float
            From the lens along the ray, mm.
        thing : ndarray of shape (H, W), int
            Number of the part in ``scene.parts``; more for the table and lights.
        """
        mi = self._mi
        integrator = mi.load_dict({"type": "aov", "aovs": "d:depth,s:shape_index"})
        raw = np.array(mi.render(self._world, sensor=self._sharp, integrator=integrator, spp=1, seed=0))
        shape = np.round(raw[..., -1]).astype(int)
        return raw[..., -2], self._part_of[np.clip(shape, 0, len(self._part_of) - 1)]


def trace(scene: Scene) -> Traced:
    """Load a scene into the path tracer."""
    return Traced(scene)


def hidden_marks(scene: Scene, distance: np.ndarray, thing: np.ndarray) -> list[int]:
    """Marks that can't be seen because something lies in front of them.

    Parameters
    ----------
    scene : Scene
    distance, thing : ndarray
        As from :meth:`Traced.depth`.

    Returns
    -------
    list of int
        Numbers from 0.
    """
    if not len(scene.marks):
        return []
    places = scene.camera.project(scene.marks)
    far = np.linalg.norm(scene.marks - scene.camera.position, axis=1)
    pitch = scene.stitch_width * scene.camera.focal / far
    height, width = distance.shape
    around = np.array([(0, 0), (0.2, 0), (-0.2, 0), (0, 0.2), (0, -0.2)])
    columns, rows = np.round(places[:, None] + around * pitch[:, None, None]).astype(int).transpose(2, 0, 1)
    inside = (columns >= 0) & (columns < width) & (rows >= 0) & (rows < height)
    at = np.where(inside, rows, 0), np.where(inside, columns, 0)
    before = far[:, None] - distance[at]
    own = inside & (thing[at] == 0)
    # From the wrong side all top loops lie under the thickness of the work, and yet they can be told.
    usual = float(np.median(before[own])) if own.any() else 0.0
    deep = (1.2 + max(0.0, min(usual / scene.stitch_width, 2.0) - 0.5)) * scene.stitch_width
    covered = ~inside | (before > np.where(own, deep, 0.15 * scene.stitch_width))
    return np.flatnonzero(covered.sum(axis=1) >= 3).tolist()


def share_cores(workers: int) -> None:
    """Let this process use its share of the cores where several render side by side.

    Parameters
    ----------
    workers : int
        Processes in all.
    """
    _tracer()
    import drjit

    drjit.set_thread_count(max(1, (os.cpu_count() or 1) // workers))


def render_photo(
    seed: int,
    *,
    difficulty: str | None = None,
    long_side: int | None = None,
    negative: str | None = None,
    samples: int = 12,
    wish: SceneRequest = SceneRequest(),  # noqa: B008  a frozen value
) -> tuple[np.ndarray, dict]:
    """Render a photo that owns its truth.

    Parameters
    ----------
    seed : int
        The same seed and choices give the same photo.
    difficulty : {"easy", "ordinary", "hard", "wide"} or None
        None draws one of the first three from the seed; "wide" is for
        training and takes no wish.
    long_side : int or None
        Longer side of the picture in pixels; None draws one from 1000 to 1280.
        For "wide" it is the longest, 900 where None.
    negative : str or None
        A key of :data:`counter.synthetic.scene.NEGATIVES` for a photo with
        nothing to count.
    samples : int
        Paths for each pixel; the denoiser makes up for low numbers.
    wish : Wish
        What the photo must show, for samples.

    Returns
    -------
    pixels : ndarray of shape (H, W, 3), uint8
        sRGB.
    truth : dict
        As the truth file beside a photo.

    Raises
    ------
    ImportError
        Where the path tracer or the denoiser is not installed.
    """
    _tracer()
    if difficulty == "wide" and negative is None:
        if wish != SceneRequest():
            raise ValueError("a photo of the wide set takes no wish")
        scene = compose_wide(seed, long_side=long_side)
    else:
        scene = compose(
            seed,
            difficulty=None if difficulty == "wide" else difficulty,
            long_side=long_side,
            negative=negative,
            wish=wish,
        )
    traced = trace(scene)
    hidden = hidden_marks(scene, *traced.depth()) if len(scene.marks) else []
    if difficulty == "wide" and len(hidden) > MOST_HIDDEN_SHARE * len(scene.marks):
        # A rim that can hardly be seen teaches nothing.
        scene = compose_wide(seed, long_side=long_side, bare=True)
        traced = trace(scene)
        hidden = hidden_marks(scene, *traced.depth())
    # For training the table matters less than the piece.
    light = traced.light(samples, seed % 2**31, 2 if difficulty == "wide" else None)
    pixels = develop(light, scene.finish, np.random.default_rng(scene.develop_seed))
    truth = {**scene.truth, "hidden": hidden}
    if hidden:
        truth["tags"] = [*truth["tags"], "hidden rim"]
    return pixels, truth

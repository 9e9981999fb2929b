"""What is built is installed where there is no checkout, and works there."""

import os
import subprocess
import sys
import sysconfig
import venv
import zipfile
from importlib import metadata
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


def told(command, **more):
    run = subprocess.run(list(map(str, command)), capture_output=True, text=True, **more)
    assert run.returncode == 0, run.stdout + run.stderr
    return run.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    folder = tmp_path_factory.mktemp("built")
    source = folder / "source"
    # Of what the container is built of and a clean clone has; nothing is built in the checkout.
    lines = (ROOT / "counter" / "page" / "Containerfile").read_text().splitlines()
    copied = [name for line in lines if line.startswith("COPY ") for name in line.split()[1:-1]]
    for name in told(["git", "ls-files", "-co", "--exclude-standard"], cwd=ROOT).splitlines():
        if (ROOT / name).is_file() and any(name == own or name.startswith(f"{own}/") for own in copied):
            (source / name).parent.mkdir(parents=True, exist_ok=True)
            (source / name).write_bytes((ROOT / name).read_bytes())
    command = [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "--no-index", "--no-build-isolation"]
    told([*command, "-w", folder, source])
    (made,) = folder.glob("*.whl")
    return made


needs_setuptools = pytest.mark.skipif(
    tuple(map(int, metadata.version("setuptools").split(".")[:1])) < (77,)
    if any(found.name == "setuptools" for found in metadata.distributions())
    else True,
    reason="building needs setuptools 77 or newer in this environment",
)
needs_git = pytest.mark.skipif(not (ROOT / ".git").exists(), reason="this is no clone")


@pytest.mark.slow
@needs_setuptools
@needs_git
def test_wheel_holds_all_that_runs(wheel):
    with zipfile.ZipFile(wheel) as pack:
        names = set(pack.namelist())
    for path in (ROOT / "counter").rglob("*"):
        if (
            path.is_file()
            and path.suffix in {".py", ".js", ".css", ".lark", ".onnx", ".json"}
            and "cache" not in str(path)
        ):
            assert str(path.relative_to(ROOT)) in names, path
    assert any(name.endswith("sample_images/blue-disc.jpg") for name in names)


@pytest.mark.slow
@needs_setuptools
@needs_git
def test_installed_elsewhere_it_counts_and_serves_its_samples(wheel, tmp_path):
    venv.create(tmp_path / "room", with_pip=True)
    python = tmp_path / "room" / ("Scripts" if os.name == "nt" else "bin") / "python"
    told([python, "-m", "pip", "install", "-q", "--no-deps", "--no-index", wheel])
    # What it needs is taken from this environment, without the checkout that may be installed here.
    ask = [python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))"]
    site = Path(told(ask).strip())
    (site / "needs.pth").write_text("\n".join(dict.fromkeys(p for p in sys.path if p.endswith("site-packages"))) + "\n")
    own = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    away = {"cwd": tmp_path, "env": own | {"XDG_DATA_HOME": str(tmp_path / "data")}}
    where = told([python, "-c", "import counter; print(counter.__file__)"], **away)
    assert Path(where.strip()).is_relative_to(site)
    data = Path(told([python, "-c", "import sysconfig; print(sysconfig.get_path('data'))"], **away).strip())
    sample = data / "share" / "rimtally" / "sample_images" / "blue-disc.jpg"
    assert sample.read_bytes() == (ROOT / "sample_images" / "blue-disc.jpg").read_bytes()
    said = told([python, "-m", "counter", "count", sample, "--expected", "24"], **away)
    assert "24" in said
    offers = "from counter.page.home import _samples; print(*_samples())"
    assert str(sample) in told([python, "-W", "ignore", "-c", offers], **away)
    assert sysconfig.get_path("data") != str(data)

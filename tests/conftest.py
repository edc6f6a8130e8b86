"""What all tests share: where the data lies, which outside programs are there, quick seeds."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

# One thread for linear algebra: two are slower than one on the shared, small machines tests run on.
for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

settings.register_profile(
    "futtock",
    deadline=None,  # a first call may compile
    derandomize=bool(os.environ.get("CI")),
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "futtock"))

ROOT = Path(__file__).resolve().parent.parent
DATA = ROOT / "tests" / "data"
UNDER_CI = os.environ.get("CI", "").lower() in {"1", "true", "yes"}


# --- outside programs --------------------------------------------------------------------------


def _chromium() -> str | None:
    named = os.environ.get("FUTTOCK_CHROMIUM")
    return named or shutil.which("chromium") or shutil.which("chromium-browser")


def _postgres_bin() -> Path | None:
    """Folder with initdb and pg_ctl, the newest there is."""
    named = os.environ.get("FUTTOCK_POSTGRES_BIN")
    found = [Path(named)] if named else []
    if on_path := shutil.which("initdb"):
        found.append(Path(on_path).resolve().parent)
    found += sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    return next((p for p in found if (p / "initdb").exists() and (p / "pg_ctl").exists()), None)


def _need(there: bool, what: str) -> None:
    """Skip with a reason where a program is missing; under CI that is a failure."""
    if there:
        return
    if UNDER_CI:
        pytest.fail(f"{what} is missing, and under CI it must not be", pytrace=False)
    pytest.skip(f"{what} is not installed here")


def pytest_runtest_setup(item: pytest.Item) -> None:
    if item.get_closest_marker("browser"):
        _need(_chromium() is not None, "Chromium")
    if item.get_closest_marker("postgres"):
        _need(_postgres_bin() is not None, "PostgreSQL")


@pytest.fixture(scope="session")
def chromium() -> str:
    """Path of Chromium; use in tests marked ``browser``."""
    path = _chromium()
    _need(path is not None, "Chromium")
    assert path is not None
    return path


@pytest.fixture(scope="session")
def postgres_url() -> Iterator[str]:
    """Address of a PostgreSQL of our own (psycopg through SQLAlchemy), gone after the session."""
    folder = _postgres_bin()
    _need(folder is not None, "PostgreSQL")
    assert folder is not None
    home = Path(tempfile.mkdtemp(prefix="futtock-pg-"))
    as_user: list[str] = []
    if os.geteuid() == 0:  # the server refuses to run as root
        shutil.chown(home, "postgres", "postgres")
        as_user = ["setpriv", "--reuid=postgres", "--regid=postgres", "--clear-groups"]
    env = {"PATH": os.environ.get("PATH", ""), "LC_ALL": "C.UTF-8", "HOME": str(home)}

    def run(*words: str) -> None:
        done = subprocess.run([*as_user, *words], env=env, cwd=home, capture_output=True, text=True)
        assert done.returncode == 0, f"{words[0]}: {done.stdout}{done.stderr}"

    data = home / "data"
    run(str(folder / "initdb"), "-D", str(data), "-U", "postgres", "-A", "trust", "-E", "UTF8")
    # No TCP: the socket folder alone tells one server from another, also under xdist.
    options = f"-c listen_addresses='' -c unix_socket_directories='{home}' -c fsync=off"
    run(str(folder / "pg_ctl"), "-D", str(data), "-w", "-o", options, "-l", "log", "start")
    try:
        yield f"postgresql+psycopg://postgres@/postgres?host={home}"
    finally:
        run(str(folder / "pg_ctl"), "-D", str(data), "-m", "immediate", "stop")
        shutil.rmtree(home, ignore_errors=True)


# --- data ---------------------------------------------------------------------------------------


@pytest.fixture(scope="session")
def root() -> Path:
    """The repository's top folder."""
    return ROOT


@pytest.fixture(scope="session")
def hulls_dir() -> Path:
    """Published and generated hulls: a CSV each with a JSON beside it that names its source."""
    return DATA / "hulls"


@pytest.fixture(scope="session")
def reference_dir() -> Path:
    """Published figures: those the product ships, and those only checked against."""
    return DATA / "reference"


@pytest.fixture(scope="session")
def marram_dir() -> Path:
    """Marram's folder with ``truth.json``, ``slips.csv`` and ``offsets-true.csv`` beside it."""
    return DATA / "demo"


@pytest.fixture
def marram_copy(tmp_path: Path) -> Path:
    """A fresh copy of Marram's vessel folder that a test may write in."""
    folder = tmp_path / "marram"
    # what someone may have computed in it just now stays there
    shutil.copytree(ROOT / "futtock" / "demo", folder, ignore=shutil.ignore_patterns(".futtock"))
    return folder


def _elsewhere(variable: str, usual: Path, what: str) -> Path:
    place = Path(os.environ.get(variable) or usual)
    if not place.exists():
        pytest.skip(f"{what} may not be redistributed here; {variable} can say where it lies")
    return place


@pytest.fixture(scope="session")
def duisburg_points() -> Path:
    """The Duisburg hull's point cloud (PLY), which the licence of its source keeps out of here."""
    usual = ROOT.parent / "shared" / "hulls" / "dtc_points.ply"
    return _elsewhere("FUTTOCK_DUISBURG_POINTS", usual, "the Duisburg point cloud")


@pytest.fixture(scope="session")
def packing_dir() -> Path:
    """Classic strip-packing instances, not ours to give on."""
    usual = ROOT.parent / "shared" / "packing"
    return _elsewhere("FUTTOCK_PACKING", usual, "the classic packing instances")

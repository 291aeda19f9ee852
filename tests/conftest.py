"""What many tests need: the standing cast (made once a session, copied for each test), and the demo archive.

The samples are transcribed once a session, by the real engine, through the first command of README itself.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import pytest
from argon2 import PasswordHasher
from filelock import FileLock
from hypothesis import HealthCheck, settings

from archive.app import Archive
from archive.meaning.encoder import Encoder
from archive.services import accounts
from archive.speech import models
from tests import cast
from tests.needs import nearest_model
from tests.services import spoken

settings.register_profile("house", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("house")

ROOT = Path(__file__).resolve().parents[1]
ONE_THREAD = {"TOLDHERE_CPU_THREADS": "1"}  # for the engine: two processes share the tests, and it hears the same


def copy_of(folder: Path, to: Path) -> Path:
    """A closed archive, copied; masters are linked, since nothing may ever write to them."""
    shutil.copytree(folder, to, copy_function=_link_masters)
    return to


def _link_masters(source: str, target: str) -> str:
    if "/masters/" in source:
        os.link(source, target)
        return target
    return shutil.copy2(source, target)


# What takes longest, begun first, so that neither process waits long for the other at the end: one hears the samples meanwhile.
LONG = (
    "test_demo.py", "audio/test_masked_speech.py", "services/test_listening.py", "browser/test_access.py", "browser/test_listening.py",
    "browser/test_correcting.py", "browser/test_choosing.py", "db/test_permitted.py", "browser/test_names.py", "services/test_access.py",
)  # fmt: skip


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Long files first; others that need the demo last, when it is there."""
    first = {ROOT / "tests" / name: n for n, name in enumerate(LONG)}
    late = {item.path for item in items if "demo_run" in getattr(item, "fixturenames", ())}
    items.sort(key=lambda item: first.get(item.path, len(LONG) + (item.path in late)))


Once = Callable[[str, Callable[[Path], object]], Path]


@pytest.fixture(scope="session")
def once(tmp_path_factory: pytest.TempPathFactory) -> Once:
    """Makes a folder once for all processes that share the tests: `once(name, make)` calls `make(folder)` in the first that asks."""
    base = tmp_path_factory.getbasetemp()
    shared = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base

    def made(name: str, make: Callable[[Path], object]) -> Path:
        home = shared / f"once-{name}"
        home.mkdir(exist_ok=True)
        with FileLock(home / "lock"):
            if not (home / "made").exists():
                make(home / "archive")
                (home / "made").touch()
        return home / "archive"

    return made


def pytest_configure() -> None:
    """A shell that puts the tests into the background has them ignore Ctrl+C; commands they start, which are ended so, would too."""
    if signal.getsignal(signal.SIGINT) == signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)


@pytest.fixture(scope="session", autouse=True)
def quick_passwords() -> Iterator[None]:
    """A password's hash is kept small: hundreds of tests sign in. What it costs in use: tests/services/test_accounts.py."""
    quick = PasswordHasher(time_cost=1, memory_cost=1024, parallelism=1)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(accounts, "_hasher", quick)
        patch.setattr(accounts, "_NOBODY", quick.hash("nobody's"))
        yield


@pytest.fixture(scope="session")
def made_cast(once: Once) -> Path:
    """The folder of the cast's archive, made once."""
    return once("cast", lambda folder: cast.build(folder).close())


@pytest.fixture(scope="session")
def made_spoken(once: Once) -> Path:
    """The folder of the archive whose voices were compared (tests/services/spoken.py), made once."""
    return once("spoken", spoken.make)


@pytest.fixture(scope="session")
def nearest(once: Once) -> models.ModelFolder:
    """The model for nearness in meaning, put together and summed once."""
    return models.find(models.NEAREST, nearest_model(once), models.MEANING)


@pytest.fixture(scope="session")
def encoder(nearest: models.ModelFolder) -> Encoder:
    """The same, loaded: one for all tests of a session."""
    return Encoder(nearest.path, nearest.model_sha256)


Opener = Callable[..., Archive]


@pytest.fixture
def open_cast(made_cast: Path, tmp_path: Path) -> Iterator[Opener]:
    """Opens a copy of the cast's archive, at the tests' day or another: `open_cast(clock=…)`."""
    opened: list[Archive] = []

    def opener(clock: Callable[[], datetime] = cast.clock) -> Archive:
        folder = tmp_path / f"archive-{len(opened)}"
        opened.append(cast.in_a_hurry(Archive.open(copy_of(made_cast, folder), {}, clock)))
        return opened[-1]

    yield opener
    for archive in opened:
        archive.close()


@pytest.fixture
def cast_archive(open_cast: Opener) -> Archive:
    """A copy of the cast's archive."""
    return open_cast()


@dataclass(frozen=True)
class DemoRun:
    """What `toldhere demo` left and printed."""

    folder: Path
    printed: str


@pytest.fixture(scope="session")
def demo_run(once: Once) -> DemoRun:
    """One run of the demo, as a stranger would start it (about three minutes), for all processes that share the tests."""
    folder = once("demo", lambda folder: folder.with_suffix(".txt").write_text(_demo(folder), encoding="utf-8"))
    return DemoRun(folder, folder.with_suffix(".txt").read_text(encoding="utf-8"))


def _demo(folder: Path) -> str:
    command = [sys.executable, "-m", "archive.cli.main", "demo", str(folder)]
    environ = os.environ | ONE_THREAD | {"COLUMNS": "160", "PYTHONUTF8": "1"}
    done = subprocess.run(command, cwd=ROOT, env=environ, capture_output=True, text=True, encoding="utf-8", check=False)
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-3000:]
    return done.stdout


@pytest.fixture
def demo_archive(demo_run: DemoRun, tmp_path: Path) -> Iterator[Archive]:
    """A copy of the demo's archive."""
    archive = Archive.open(copy_of(demo_run.folder, tmp_path / "demo"))
    yield archive
    archive.close()

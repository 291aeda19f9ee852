"""The walls of the house (DESIGN §2, §4): who may import whom, who may read raw words, who may build what is let through."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
FLOORS = (
    {"errors"}, {"domain"}, {"rules"}, {"db", "files", "audio", "speech", "meaning", "render"}, {"gate"}, {"services"}, {"app"},
    {"cli", "worker"},
)  # fmt: skip
FLOOR = {room: n for n, floor in enumerate(FLOORS) for room in floor}
# An outside package, and the rooms of archive/ that alone may import it.
ALONE = {
    "sqlalchemy": {"db"}, "alembic": {"db"}, "faster_whisper": {"speech"}, "ctranslate2": {"speech", "meaning"}, "tokenizers": {"meaning"}, "av": {"audio", "gate"}, "pydub": {"audio"},
    "imageio_ffmpeg": {"audio"}, "soundfile": {"audio"}, "docx": {"render", "gate"}, "flask": set(), "click": {"cli"},
    "rich": {"cli"}, "argon2": {"services"}, "pypdf": {"gate"}, "mutagen": {"gate"}, "huggingface_hub": {"speech"}, "requests": set(), "urllib.request": set(),
    "httpx": set(), "socket": set(), "fpdf": {"render"}, "segno": {"render"},
}  # fmt: skip
FACES = {"cli", "webui"}
FACES_MAY = {"archive.app", "archive.errors", "archive.settings", "archive.domain.values"}
PURE = {"domain", "rules"}
NOT_PURE = {"os", "io", "pathlib", "subprocess", "time", "random", "secrets", "tempfile", "shutil", "threading"}


def sources(*tops: str) -> list[Path]:
    return [p for top in tops for p in sorted((ROOT / top).rglob("*.py"))]


def room_of(path: Path) -> str:
    parts = path.relative_to(ROOT).parts
    if parts[0] == "webui":
        return "webui"
    return parts[1] if len(parts) > 2 else path.stem


def imports(path: Path) -> Iterator[tuple[int, str, frozenset[str]]]:
    """(line, module, names) of every import in a file; relative ones come as ".module"."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node.lineno, alias.name, frozenset()
        elif isinstance(node, ast.ImportFrom):
            names = frozenset(a.name for a in node.names)
            module = "." * node.level + (node.module or "")
            yield node.lineno, module, names
            if module in ("archive", "archive.db", "archive.domain", "archive.gate"):
                for name in names:
                    yield node.lineno, f"{module}.{name}", frozenset()


@pytest.mark.parametrize("path", sources("archive", "webui"), ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_keep_to_the_floors(path: Path) -> None:
    room = room_of(path)
    for line, module, _ in imports(path):
        where = f"{path.name}:{line} imports {module}"
        assert not module.startswith("."), f"{where}: absolute imports only"
        if room != "webui":
            assert module.split(".")[0] != "webui", f"{where}: the core does not know the web"
        for package, rooms in ALONE.items():
            if (module == package or module.startswith(f"{package}.")) and room not in ("webui", "app"):
                assert room in rooms, f"{where}: only {sorted(rooms)} may"
        if module.startswith("archive.") and module.count(".") >= 1:
            target = module.split(".")[1]
            if room in FACES:
                own = module == f"archive.{room}" or module.startswith(f"archive.{room}.")
                assert own or module in FACES_MAY, f"{where}: the faces reach everything through app"
            elif target == "settings":
                assert room in ("app", "settings"), f"{where}: settings are handed on by app"
            elif room in FLOOR and target in FLOOR and target != room:
                assert FLOOR[target] < FLOOR[room], f"{where}: {target} is not below {room}"


@pytest.mark.parametrize("path", sources("archive/domain", "archive/rules"), ids=lambda p: p.name)
def test_the_pure_rooms_do_nothing(path: Path) -> None:
    for line, module, _ in imports(path):
        assert module.split(".")[0] not in NOT_PURE, f"{path.name}:{line}: {module} in a room without I/O and clock"
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            assert node.func.attr not in ("today", "now", "utcnow"), f"{path.name}:{node.lineno}: a clock"
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            assert node.func.id not in ("open", "print", "input"), f"{path.name}:{node.lineno}: {node.func.id}"


def test_raw_words_are_read_through_the_gate_alone() -> None:
    """db/words.py hands out what people said; the tables that hold it are named nowhere else."""
    tables = {"block", "version_block"}
    for path in sources("archive", "webui"):
        room = room_of(path)
        for line, module, names in imports(path):
            if module == "archive.db.words":
                assert room == "gate" or path.name == "words.py", f"{path}:{line}: raw words outside the gate"
            if module == "archive.db.tables" and names & tables:
                assert path.name == "words.py", f"{path}:{line}: {names & tables} are read by db/words.py alone"
            if module == "archive.gate.reading" and room != "gate":
                assert names <= {"Context", "Readings"}, f"{path}:{line}: {names} held outside the gate"
            if module in ("archive.gate.heard", "archive.gate.masked"):
                assert room == "gate", f"{path}:{line}: parts of a reading outside the gate"
            if module == "archive.gate.custody":
                assert room in ("services", "gate"), f"{path}:{line}: custody is for machinery"


def test_only_one_function_writes_versions() -> None:
    """Whoever writes another transcript carries to it what was decided about names (gate/carried.py)."""
    writers = {path.name for path in sources("archive", "webui") if "write_version(" in path.read_text(encoding="utf-8")}
    assert writers == {"words.py", "carried.py"}


def test_what_the_gate_reads_is_handed_on_and_not_looked_into() -> None:
    """Services hold `Readings` and `Pinned` to hand them from one door to the next; their words are the gate's."""
    for path in sources("archive/services", "webui"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id in ("readings", "pinned"):
                assert node.attr in {"connection", "context", "codes", "times", "decide", "spans", "no_longer", "holds"}, f"{path}:{node.lineno}: {node.attr}"


def test_only_the_gate_builds_what_is_let_through() -> None:
    for path in sources("archive", "webui"):
        inside = room_of(path) == "gate" or path.name == "cleared.py"
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                called = getattr(node.func, "id", getattr(node.func, "attr", ""))
                built = called.startswith(("Cleared", "Shown")) and called not in ("ClearedClipError",)
                assert inside or not built, f"{path}:{node.lineno}: {called} built outside gate/"
                assert called != "import_module", f"{path}:{node.lineno}: an import by name goes round the walls"
            if isinstance(node, ast.Name) and node.id == "GATE_TOKEN":
                assert inside, f"{path}:{node.lineno}: the gate's token outside gate/"
        for line, module, names in imports(path):
            if module == "archive.domain.cleared" and "GATE_TOKEN" in names:
                assert inside, f"{path}:{line}: the gate's token outside gate/"


def test_render_makes_no_queries() -> None:
    """render/ gets Cleared values and gives bytes."""
    for path in sources("archive/render"):
        for line, module, _ in imports(path):
            assert not module.startswith(("archive.db", "sqlalchemy")), f"{path.name}:{line}: {module}"


def test_nothing_lies_at_the_top_that_does_not_belong_there() -> None:
    belongs = {"README.md", "DEVELOPERS.md", "pyproject.toml", "archive", "webui", "tests", "sample_media"}
    found = {p.name for p in ROOT.iterdir() if not p.name.startswith(".") and not p.name.endswith(".egg-info")}
    assert found - {"build"} <= belongs

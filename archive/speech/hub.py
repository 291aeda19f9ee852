"""The only way to the network, and only when a person asks for it: a model of the catalogue, at one fixed revision."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from archive.errors import ModelMissing

_REMEDY = (
    "Look whether this computer is online, or copy the model's folder here and use `toldhere models add NAME FOLDER`."
)


@dataclass(frozen=True, slots=True)
class OfferedFile:
    """Size, and the SHA-256 that the server promises ("" where it promises none)."""

    bytes: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Offer:
    """What the server has: the revision is a full commit id, so that all files belong together."""

    repository: str
    revision: str
    files: dict[str, OfferedFile]


@contextlib.contextmanager
def _online() -> Iterator[None]:
    """The engine switches the hub off for this process; a fetch that a person said yes to needs it for a moment."""
    import huggingface_hub.constants as constants

    before = constants.HF_HUB_OFFLINE, constants.HF_HUB_DISABLE_TELEMETRY
    constants.HF_HUB_OFFLINE, constants.HF_HUB_DISABLE_TELEMETRY = False, True
    try:
        yield
    finally:
        constants.HF_HUB_OFFLINE, constants.HF_HUB_DISABLE_TELEMETRY = before


def look(repository: str, revision: str | None, endpoint: str | None) -> Offer:
    """Ask what there is. Raises ModelMissing where the server cannot be reached or has no such model."""
    from huggingface_hub import HfApi

    with _online(), _told():
        found = HfApi(endpoint=endpoint, token=False).model_info(repository, revision=revision, files_metadata=True)
    files = {}
    for sibling in found.siblings or []:
        lfs = sibling.lfs
        files[sibling.rfilename] = OfferedFile(int(sibling.size or 0), str(lfs.sha256) if lfs else "")
    if not found.sha:
        raise ModelMissing("The server names no revision of this model.", "Nothing was fetched.")
    return Offer(repository, found.sha, files)


def download(offer: Offer, name: str, folder: Path, endpoint: str | None) -> Path:
    """One file into `folder`. Raises ModelMissing."""
    from huggingface_hub import hf_hub_download

    with _online(), _told():
        path = hf_hub_download(
            offer.repository, name, revision=offer.revision, local_dir=folder, endpoint=endpoint, token=False
        )
    return Path(path)


@contextlib.contextmanager
def _told() -> Iterator[None]:
    try:
        yield
    except Exception as trouble:  # the library lets through whatever its network layer of the day raises
        raise ModelMissing("The model could not be fetched.", _REMEDY) from trouble

"""What every service is given: the database, the masters, the clock, the settings it may read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Protocol
from zoneinfo import ZoneInfo

from archive.audio.probe import Caps
from archive.db.session import Database
from archive.domain.values import Role, Viewer
from archive.errors import NotAllowed
from archive.files.derived import Derived
from archive.files.masters import Masters
from archive.gate.reading import Context


class Options(Protocol):
    """The settings that services read; archive.settings.Settings has them."""

    @property
    def name(self) -> str: ...
    @property
    def exhibition(self) -> str: ...
    @property
    def cooling_off_days(self) -> int: ...
    @property
    def zone(self) -> ZoneInfo: ...
    @property
    def language(self) -> str: ...
    @property
    def model(self) -> str: ...
    @property
    def compute_type(self) -> str: ...
    @property
    def cpu_threads(self) -> int: ...
    @property
    def vocabulary_most(self) -> int: ...
    @property
    def chunk_ms(self) -> int: ...
    @property
    def lease_s(self) -> int: ...
    @property
    def max_hours(self) -> int: ...
    @property
    def max_channels(self) -> int: ...
    @property
    def max_bytes(self) -> int: ...
    @property
    def mute_margin_ms(self) -> int: ...
    @property
    def mute_bed(self) -> str: ...
    @property
    def draft_mark(self) -> str: ...
    @property
    def clip_loudness_lufs(self) -> float: ...
    @property
    def doubtful_below(self) -> float: ...
    @property
    def without_undertaking(self) -> str: ...
    @property
    def erasure_wait_days(self) -> int: ...


@dataclass(frozen=True, slots=True)
class Rooms:
    """One opened archive, seen from the services."""

    folder: Path
    db: Database
    masters: Masters
    options: Options
    models_dir: Path
    clock: Callable[[], datetime]

    @property
    def derived(self) -> Derived:
        """Copies for listening, which can be made again."""
        return Derived(self.folder / "access")

    def now(self) -> str:
        """The moment as it is written down: UTC, ISO 8601, to the second."""
        return self.clock().astimezone(UTC).isoformat(timespec="seconds")

    def seconds(self) -> float:
        """The moment in seconds of the epoch, for leases and throttles."""
        return self.clock().timestamp()

    def today(self) -> date:
        """The day in the archive's time zone: consent is decided by it."""
        return self.clock().astimezone(self.options.zone).date()

    def caps(self) -> Caps:
        """Limits of one recording."""
        options = self.options
        return Caps(max_duration_ms=options.max_hours * 3_600_000, max_channels=options.max_channels, max_bytes=options.max_bytes)

    def context(self) -> Context:
        """Today, this exhibition, the margin of its mutes and the pause before use, for the gate."""
        return Context(self.today(), self.options.exhibition, self.options.mute_margin_ms, self.options.cooling_off_days)


def need(viewer: Viewer, *roles: Role) -> None:
    """Raises NotAllowed unless the viewer has one of these roles."""
    if viewer.role not in roles:
        names = " or ".join(r.value for r in roles)
        raise NotAllowed(f"Only a {names} may do this.", "Ask a keeper of this archive.")


KEEPER = (Role.KEEPER,)
EDITORS = (Role.KEEPER, Role.EDITOR)
HELPERS = (*EDITORS, Role.HELPER)  # a helper only in what was assigned: look recordings up by `reaching.recording_named`
EVERYBODY = (Role.KEEPER, Role.EDITOR, Role.READER)
ANYBODY = (*EVERYBODY, Role.HELPER)

"""Themes and events as a viewer may know of them: what is called after somebody who is withheld is for the team alone."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from archive.db.session import Row
from archive.domain.values import Viewer
from archive.gate.reading import Readings
from archive.gate.show import sees_names
from archive.gate.withheld import is_withheld
from archive.rules.themes import Theme


def open_themes(readings: Readings, viewer: Viewer, every: Mapping[str, Theme]) -> dict[str, Theme]:
    """The themes, each with those of its other names, that this viewer may know of."""
    if sees_names(viewer):
        return dict(every)

    def others(labels: Iterable[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
        return tuple((language, text) for language, text in labels if not is_withheld(readings, text))

    known = {name: theme for name, theme in every.items() if not is_withheld(readings, name)}
    return {name: replace(theme, use_for=others(theme.use_for), labels=others(theme.labels)) for name, theme in known.items()}


def open_events(readings: Readings, viewer: Viewer, rows: Iterable[Row[Any]]) -> list[Row[Any]]:
    """The events of the calendar that this viewer may know of."""
    return [r for r in rows if sees_names(viewer) or not is_withheld(readings, r.name)]

"""Gazetteers from elsewhere: GeoJSON (RFC 7946) and the Linked Places format (JSON-LD), as rows of places.csv. Pure.

Both are feature collections of JSON; Linked Places says names, types, relations and times in members of its own. Our own files
come back as they were; of others is told what is not kept.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NoReturn

from archive.domain.placenames import Named, written
from archive.errors import BadInput

_KEPT = {"@id", "@context", "type", "properties", "when", "names", "types", "geometry", "links", "relations", "id", "bbox", "foreign"}
PART_OF = "gvp:broaderPartitive"  # the relation of Linked Places for what lies within
SAME = "exactMatch"  # its link for one place under two records


@dataclass
class Features:
    """Rows of places.csv from a file of features; faults with the number of their feature; and what was not kept."""

    rows: list[dict[str, str]] = field(default_factory=list)
    faults: list[tuple[int, str]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def read_features(text: str) -> Features:
    """Read either format. Raises BadInput where the file is neither."""
    loaded = _loaded(text)
    if loaded.get("type") == "Feature":
        loaded = {**loaded, "type": "FeatureCollection", "features": [loaded]}
    features = loaded.get("features")
    if loaded.get("type") != "FeatureCollection" or not isinstance(features, list):
        raise BadInput("This is JSON, but no collection of places.", "It must be GeoJSON (RFC 7946) or Linked Places: “type” FeatureCollection, with “features”.")
    crs = loaded.get("crs")
    if crs is not None and "CRS84" not in json.dumps(crs):
        raise BadInput("Its coordinates are in a system of their own (“crs”).", "GeoJSON of today (RFC 7946) has longitude and latitude in WGS 84: export it again so.")
    found = Features()
    titles = {str(f["@id"]): _title(f) for f in features if isinstance(f, dict) and f.get("@id")}
    unknown: dict[str, int] = {}
    for number, feature in enumerate(features, 1):
        one = _Feature(feature if isinstance(feature, dict) else {}, titles, lambda words, n=number: found.faults.append((n, words)))  # type: ignore[misc]
        if not isinstance(feature, dict) or feature.get("type") != "Feature":
            one.fault("It is no feature (“type” Feature). Take it out, or mend it.")
        found.rows.append(one.cells())
        for kind in (*one.lost, *(k for k in one.feature if k not in _KEPT)):
            unknown[kind] = unknown.get(kind, 0) + 1
    found.notes = [f"Not kept, because the gazetteer has no room for it: {kind} ({number} of {len(features)} places)." for kind, number in unknown.items()]
    return found


def _loaded(text: str) -> dict[str, Any]:
    def refuse(_constant: str) -> NoReturn:
        raise BadInput("It has a number that is none (NaN or infinite).", "Write coordinates as numbers, or leave them out. Nothing was taken.")

    try:
        loaded = json.loads(text, parse_constant=refuse)
    except json.JSONDecodeError as error:
        raise BadInput(f"It cannot be read as JSON: something is wrong in line {error.lineno}, sign {error.colno}.", "Mend it there, or export it again. Nothing was taken.") from None
    except RecursionError:
        raise BadInput("It is nested too deeply to be a gazetteer.", "Export it again. Nothing was taken.") from None
    if not isinstance(loaded, dict):
        raise BadInput("This is JSON, but no collection of places.", "It must be an object with “features”.")
    return loaded


class _Feature:
    """One place of a file. What is wrong with it goes to `fault`; what it has and the gazetteer has not to `lost`."""

    def __init__(self, feature: Mapping[str, Any], titles: Mapping[str, str], fault: Callable[[str], None]) -> None:
        self.feature, self.titles, self.fault = feature, titles, fault
        properties = feature.get("properties")
        self.properties: Mapping[str, Any] = properties if isinstance(properties, dict) else {}
        self.lost: list[str] = []

    def cells(self) -> dict[str, str]:
        """The row."""
        cells = {"name": self._text(_title(self.feature), "name"), "kind": self._kind(), **self._point()}
        for name in ("from", "until", "language"):
            cells[name] = self._text(self.properties.get(name, ""), name)
        for name in ("x_m", "y_m"):
            cells[name] = self._number(self.properties.get(name), name)
        cells["heard_as"] = "; ".join(self._text(t, "heard_as") for t in self._list(self.properties.get("heard_as"), "heard_as"))
        cells["same_as"] = self._same()
        names = [n for n in self._names() if n.text]
        own = [n for n in names if n.text == cells["name"]]
        if own and "from" not in self.properties and "until" not in self.properties:
            cells["from"], cells["until"] = _ends(own[0].edtf or self._when(self.feature.get("when")))
        elif not own and "names" not in self.feature and not cells["from"] and not cells["until"]:
            cells["from"], cells["until"] = _ends(self._when(self.feature.get("when")))
        if own and not cells["language"]:
            cells["language"] = own[0].language
        cells["also"] = "; ".join(map(written, dict.fromkeys(n for n in names if n.text != cells["name"])))
        cells["within"] = "; ".join(map(written, dict.fromkeys(self._within())))
        return cells

    # -- members -------------------------------------------------------------------------------------------------
    def _kind(self) -> str:
        types = [t for t in self._list(self.feature.get("types"), "types") if isinstance(t, dict)]
        if len(types) > 1:
            self.lost.append("types after the first")
        if types:
            labels = [types[0].get("label"), *(s.get("label") for s in self._list(types[0].get("sourceLabels"), "sourceLabels") if isinstance(s, dict))]
            return self._text(next((label for label in labels if label), ""), "types")
        return self._text(self.properties.get("kind", ""), "kind")

    def _point(self) -> dict[str, str]:
        geometry = self.feature.get("geometry")
        if geometry is None:
            return {"latitude": "", "longitude": ""}
        parts = geometry.get("geometries") if isinstance(geometry, dict) and geometry.get("type") == "GeometryCollection" else [geometry]
        points = [p for p in parts if isinstance(p, dict) and p.get("type") == "Point"] if isinstance(parts, list) else []
        if len(points) != (len(parts) if isinstance(parts, list) else 0) or len(points) > 1:
            self.lost.append("outlines, lines and further points")
        if not points:
            return {"latitude": "", "longitude": ""}
        at = points[0].get("coordinates")
        if not isinstance(at, list) or not 2 <= len(at) <= 3 or not all(isinstance(n, int | float) and not isinstance(n, bool) for n in at):
            self.fault("“coordinates” are no point. Write [longitude, latitude].")
            return {"latitude": "", "longitude": ""}
        if len(at) == 3:
            self.lost.append("heights")
        return {"longitude": f"{at[0]}", "latitude": f"{at[1]}"}

    def _names(self) -> list[Named]:
        listed = "names" if "names" in self.feature else "also"
        found = []
        for one in self._list(self.feature.get("names") if listed == "names" else self.properties.get("also"), listed):
            given = one if isinstance(one, dict) else {"name": one}
            text = self._text(given.get("toponym", given.get("name", "")), listed)
            if given.get("citations"):
                self.lost.append("sources of names")
            found.append(Named(text, self._when(given.get("when")), self._text(given.get("lang", given.get("language", "")), listed)))
        return found

    def _within(self) -> list[Named]:
        if "relations" not in self.feature:
            given = self._list(self.properties.get("within"), "within")
            return [Named(self._text(w.get("name", "") if isinstance(w, dict) else w, "within"), self._when(w.get("when")) if isinstance(w, dict) else "") for w in given]
        found = []
        for one in self._list(self.feature["relations"], "relations"):
            if not isinstance(one, dict) or one.get("relationType") != PART_OF:
                self.lost.append("relations other than “part of”")
                continue
            label = str(one.get("label", "")).removeprefix("part of ")
            found.append(Named(self._text(self.titles.get(str(one.get("relationTo", "")), label), "relations"), self._when(one.get("when"))))
        return found

    def _same(self) -> str:
        links = [one for one in self._list(self.feature.get("links"), "links") if isinstance(one, dict)]
        same = [one for one in links if one.get("type") == SAME and str(one.get("identifier", "")) in self.titles]
        if len(same) != len(links):
            self.lost.append("links to other gazetteers")
        return self.titles[str(same[0]["identifier"])] if same else self._text(self.properties.get("same_as", ""), "same_as")

    def _when(self, when: object) -> str:
        """The times of a `when` as one EDTF date or interval; a text is taken as EDTF; "" where it says none."""
        if isinstance(when, str) or when is None:
            return when or ""
        spans = [s for s in self._list(when.get("timespans"), "timespans") if isinstance(s, dict)] if isinstance(when, dict) else []
        if isinstance(when, dict) and (len(spans) > 1 or when.get("periods")):
            self.lost.append("periods, and times after the first")
        if not spans:
            return ""
        if isinstance(spans[0].get("edtf"), str):
            return str(spans[0]["edtf"])
        ends = []
        for side, order in (("start", ("in", "earliest", "latest")), ("end", ("in", "latest", "earliest"))):
            given = spans[0].get(side)
            ends.append(next((str(given[k]) for k in order if given.get(k)), "..") if isinstance(given, dict) else "..")
        return "" if ends == ["..", ".."] else ends[0] if ends[0] == ends[1] else "/".join(ends)

    # -- values --------------------------------------------------------------------------------------------------
    def _text(self, value: object, where: str) -> str:
        if not isinstance(value, str):
            if value not in (None, ""):
                self.fault(f"“{where}” is no text. Write it in quotation marks.")
            return ""
        if set(";[]\n") & set(value):
            self.fault(f"“{where}” has a semicolon, a square bracket or a line's end in it. Take it out: the gazetteer parts names by these.")
            return ""
        return value.strip()

    def _number(self, value: object, where: str) -> str:
        if value in (None, ""):
            return ""
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.fault(f"“{where}” is no number.")
            return ""
        return f"{int(value)}" if value == int(value) else f"{value}"

    def _list(self, value: object, where: str) -> Sequence[Any]:
        if value is None:
            return ()
        if isinstance(value, str) and where in ("heard_as", "also", "within"):
            return [part for part in value.split(";") if part.strip()]
        if not isinstance(value, list):
            self.fault(f"“{where}” is no list.")
            return ()
        return value


def _title(feature: Mapping[str, Any]) -> str:
    properties = feature.get("properties")
    for name in ("title", "name"):
        if isinstance(properties, dict) and isinstance(properties.get(name), str) and properties[name].strip():
            return str(properties[name]).strip()
    names = feature.get("names")
    first = names[0] if isinstance(names, list) and names and isinstance(names[0], dict) else {}
    return str(first.get("toponym", "")).strip()


def _ends(edtf: str) -> tuple[str, str]:
    """An interval as its two ends; one date is both."""
    start, slash, end = edtf.partition("/")
    if not slash:
        return start, start
    return "" if start == ".." else start, "" if end == ".." else end

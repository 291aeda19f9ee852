"""The gazetteer as a sheet (CSV), as GeoJSON (RFC 7946) and in the Linked Places format (JSON-LD, 1.3): a cleared value to bytes.

All three are read back by `services/gazetteer.py` as they were. Members of our own are what a standard lets anybody add: properties
of a feature, and `edtf` beside a time span, which carries what ISO 8601 cannot say (about, uncertain).
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from typing import Any

from archive.domain.cleared import ClearedGazetteer
from archive.domain.dates import bounds
from archive.domain.placenames import COLUMNS, Named, PlaceEntry, cells
from archive.render.sanitise import printable
from archive.rules.place_files import PART_OF, SAME

CONTEXT = "https://raw.githubusercontent.com/LinkedPasts/linked-places/master/linkedplaces-context-v1.1.jsonld"  # of the format, from memory
OWN_WORDINGS = ("@id",)  # a member of JSON-LD that reads like somebody's initials
FORMULA = "=+-@\t\r"  # what a spreadsheet takes for a formula at the beginning of a cell
_NUMBERS = frozenset(("x_m", "y_m", "latitude", "longitude"))


def as_csv(gazetteer: ClearedGazetteer) -> bytes:
    """The sheet with the columns of places.csv: UTF-8 with a byte-order mark, for spreadsheets. A text that would be a formula there has ' before it."""
    made = io.StringIO(newline="")
    sheet = csv.writer(made, lineterminator="\r\n")
    sheet.writerow(COLUMNS)
    for place in gazetteer.places:
        row = cells(place)
        sheet.writerow([f"'{row[c]}" if row[c][:1] in FORMULA and row[c] and c not in _NUMBERS else printable(row[c]) for c in COLUMNS])
    return made.getvalue().encode("utf-8-sig")


def as_geojson(gazetteer: ClearedGazetteer) -> bytes:
    """RFC 7946: longitude before latitude, WGS 84; a place without them has no geometry. All else is in `properties`."""
    features = [{"type": "Feature", "geometry": _geometry(p), "properties": _properties(p)} for p in gazetteer.places]
    return _bytes({"type": "FeatureCollection", "features": features})


def as_linked(gazetteer: ClearedGazetteer) -> bytes:
    """Linked Places: names, types and relations each with their time spans."""
    ids = {p.name: f"#place-{p.number}" for p in gazetteer.places}
    return _bytes({"type": "FeatureCollection", "@context": CONTEXT, "features": [_linked(p, ids) for p in gazetteer.places]})


FORMS: dict[str, tuple[str, str, Callable[[ClearedGazetteer], bytes]]] = {  # form → file, media type, maker
    "csv": ("places.csv", "text/csv; charset=utf-8", as_csv),
    "geojson": ("places.geojson", "application/geo+json", as_geojson),
    "linked": ("places.linked.json", "application/ld+json", as_linked),
}


def _properties(place: PlaceEntry) -> dict[str, Any]:
    found = {
        "name": place.name, "kind": place.kind, "language": place.language, "from": place.valid_from, "until": place.valid_until,
        "within": [_full({"name": w.text, "when": w.edtf}) for w in place.within],
        "also": [_full({"name": n.text, "when": n.edtf, "language": n.language}) for n in place.also],
        "heard_as": list(place.heard_as), "same_as": place.same_as, "x_m": place.x_m, "y_m": place.y_m,
    }  # fmt: skip
    return _full(found)


def _linked(place: PlaceEntry, ids: dict[str, str]) -> dict[str, Any]:
    own = Named(place.name, place.span, place.language)
    names = [_full({"toponym": n.text, "lang": n.language, "when": _when(n.edtf)}) for n in (own, *place.also)]
    relations = [
        _full({"relationType": PART_OF, "relationTo": ids[w.text], "label": f"part of {w.text}", "when": _when(w.edtf)})
        for w in place.within
    ]
    ours = {
        "title": place.name, "from": place.valid_from, "until": place.valid_until, "heard_as": list(place.heard_as), "x_m": place.x_m, "y_m": place.y_m,
    }  # fmt: skip
    linked = {
        "@id": ids[place.name], "type": "Feature", "properties": _full(ours), "when": _when(place.span) or {"label": "no dates on record"},
        "names": names, "types": [{"label": place.kind}] if place.kind else [], "relations": relations,
        "links": [{"type": SAME, "identifier": ids[place.same_as]}] if place.same_as else [],
    }  # fmt: skip
    return {**_full(linked), "geometry": _geometry(place)}


def _geometry(place: PlaceEntry) -> dict[str, Any] | None:
    if place.latitude is None or place.longitude is None:
        return None
    return {"type": "Point", "coordinates": [place.longitude, place.latitude]}


def _when(edtf: str) -> dict[str, Any] | None:
    """A time span: `in` for a plain day, month or year, else the earliest and the latest that it may mean."""
    if not edtf:
        return None
    start, slash, end = edtf.partition("/")
    sides = [("start", start), ("end", end if slash else start)]
    return {"timespans": [{**{side: _instant(part) for side, part in sides if part not in ("", "..")}, "edtf": edtf}]}


def _instant(edtf: str) -> dict[str, str]:
    if edtf.replace("-", "").isdigit() and not (len(edtf) == 7 and edtf[5:] > "12"):
        return {"in": edtf}
    lower, upper = bounds(edtf)
    return _full({"earliest": lower.isoformat() if lower else "", "latest": upper.isoformat() if upper else ""})


def _full(members: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in members.items() if value not in (None, "", [], {})}


def _bytes(value: dict[str, Any]) -> bytes:
    return (json.dumps(_plain(value), ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode("utf-8")


def _plain(value: Any) -> Any:
    if isinstance(value, str):
        return printable(value)
    if isinstance(value, dict):
        return {name: _plain(inner) for name, inner in value.items()}
    return [_plain(inner) for inner in value] if isinstance(value, list) else value

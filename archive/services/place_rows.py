"""A row of a gazetteer, whatever it was read from: what it says and every fault of it; and what looks wrong beside the others."""

from __future__ import annotations

from collections.abc import Sequence

from archive.db.gazetteer import ALSO, HEARD, OtherName
from archive.domain.dates import bounds, validate
from archive.domain.placenames import MOST_LETTERS, Named, PlaceEntry, read_named
from archive.domain.whereabouts import far_off, on_a_plane, swapped
from archive.errors import BadInput
from archive.render.gazetteer import FORMULA
from archive.rules.grounds import Grounds
from archive.services.sheets import Listed, Row

MOST_KIND = 40


def says(row: Row, column: str) -> bool:
    """True where a row says something about a column, if only that it is empty: a sheet without the column leaves what is on record, and
    so does a member that a place of GeoJSON or Linked Places does not have."""
    return bool(row[column]) or column in row.sheet.columns and not isinstance(row.sheet.path, Listed)


def cleaned(row: Row) -> Row:
    """A row without the ' that keeps a spreadsheet from taking a text for a formula."""
    cells = {c: t[1:] if t[:1] == "'" and t[1:2] in FORMULA and t[1:] else t for c, t in row.cells.items()}
    return Row(row.sheet, row.number, cells)


def read_row(row: Row) -> PlaceEntry:
    """What a row says; its faults go to the sheet."""
    name = " ".join(row.needed("name").split())
    if len(name) > MOST_LETTERS or set("[];") & set(name):
        row.fault(f"“{name[:60]}” cannot be a place's name. It has {MOST_LETTERS} letters at most, and no square bracket.")
    if len(row["kind"]) > MOST_KIND:
        row.fault(f"“kind” is longer than {MOST_KIND} letters. Say it shorter.")
    for column in ("from", "until"):
        row.check(column, validate)
    also, heard = _named(row, "also"), _named(row, "heard_as", bare=True)
    within = _named(row, "within")
    for column, texts in (("within", [w.text for w in within]), ("same_as", [row["same_as"]])):
        if name and name in texts:
            row.fault(f"“{name}” stands in its own “{column}”. Write another place there, or nothing.")
    if any(w.language for w in within):
        row.fault("“within” has a language in square brackets. Only a time can stand there.")
    own = {name, *(n.text for n in also)}  # a spelling that is heard as well is a name of it
    place = PlaceEntry(
        0, name, row["kind"], row.language(), tuple(n for n in also if n.text != name), tuple(n.text for n in heard if n.text not in own), within,
        row["from"], row["until"], row["same_as"], *_point(row),
    )  # fmt: skip
    _in_order(row, place)
    return place


def _named(row: Row, column: str, bare: bool = False) -> tuple[Named, ...]:
    found: dict[str, list[Named]] = {}
    for part in row.list(column):
        try:
            one = read_named(part)
        except BadInput as error:
            row.fault(f"“{column}”: {error.message} {error.remedy}")
            continue
        if bare and (one.edtf or one.language):
            row.fault(f"“{column}”: “{one.text}” has square brackets behind it. A mis-hearing has neither time nor language.")
        if found.get(one.text) and (column != "within" or any(o.edtf == one.edtf for o in found[one.text])):
            row.fault(f"“{one.text}” stands twice in “{column}”. Keep one of them.")
            continue
        found.setdefault(one.text, []).append(one)
    return tuple(one for some in found.values() for one in some)


def _point(row: Row) -> tuple[int | None, int | None, float | None, float | None]:
    x_m, y_m = (row.number_of(c) if row[c] else None for c in ("x_m", "y_m"))
    latitude, longitude = (_degrees(row, c, most) for c, most in (("latitude", 90), ("longitude", 180)))
    for one, other in (("x_m", "y_m"), ("latitude", "longitude")):
        if bool(row[one]) != bool(row[other]):
            row.fault(f"“{one if row[one] else other}” stands without “{other if row[one] else one}”. Write both, or neither.")
    return x_m, y_m, latitude, longitude


def _degrees(row: Row, column: str, most: int) -> float | None:
    text = row[column].replace(",", ".")
    if not text:
        return None
    try:
        degrees = float(text)
    except ValueError:
        row.fault(f"“{text}” in “{column}” is no number. Write degrees of WGS 84, as 51.6708.")
        return None
    if not -most <= degrees <= most:
        hint = " It looks as if latitude and longitude had changed sides." if column == "latitude" and -180 <= degrees <= 180 else ""
        row.fault(f"“{text}” in “{column}” is more than {most} degrees.{hint} Correct it.")
        return None
    return degrees


def _in_order(row: Row, place: PlaceEntry) -> None:
    try:
        if place.span:
            bounds(place.span)
    except BadInput:
        row.fault("“from” is later than “until”, or one of them is no date. Write the earlier one in “from”.")


def others(place: PlaceEntry) -> list[OtherName]:
    return [*(OtherName(n.text, ALSO, n.edtf, n.language) for n in place.also), *(OtherName(t, HEARD) for t in place.heard_as)]


# --- the whole --------------------------------------------------------------------------------------------------------
def no_circles(wanted: Sequence[tuple[Row, PlaceEntry]], every: Sequence[PlaceEntry]) -> None:
    grounds = Grounds({p.name: [(w.text, w.edtf) for w in p.within] for p in every})
    for row, place in wanted:
        way = grounds.circle(place.name)
        if len(way) > 2:
            row.fault(f"“{place.name}” lies within itself: {' in '.join(way)}. Correct “within” in one of them.")


def odd_points(places: Sequence[PlaceEntry]) -> list[tuple[str, str]]:
    """(place, words) of points that cannot be right beside the others: told, and taken as they are."""
    plan = {p.name: (float(p.x_m), float(p.y_m)) for p in places if p.x_m is not None and p.y_m is not None}
    degrees = {p.name: (p.latitude, p.longitude) for p in places if p.latitude is not None and p.longitude is not None}
    turned = set(swapped(degrees))
    found = [
        (name, f"{name} lies far from all others on the plan ({times:.0f} times the usual distance): look at its x_m and y_m.")
        for name, times in far_off(plan).items()
    ]
    for name, times in far_off(on_a_plane(degrees)).items():
        what = "its latitude and longitude seem to have changed sides" if name in turned else "look at its latitude and longitude"
        found.append((name, f"{name} lies far from all others ({times:.0f} times the usual distance): {what}."))
    return found

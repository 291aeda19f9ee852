"""Points of a plan: which of them lie so far from all others that something must be wrong with them. Pure."""

from __future__ import annotations

import math
from collections.abc import Mapping
from statistics import median

FEWEST = 5  # points from which a usual distance can be told
FAR = 25  # times the usual distance from the middle: a project choice
NEAR = 4

Point = tuple[float, float]


def on_a_plane(degrees: Mapping[str, Point]) -> dict[str, Point]:
    """Latitudes and longitudes (WGS 84) as metres east and north of their middle: good enough for a town, and for a plan of a country."""
    if not degrees:
        return {}
    middle_lat, middle_lon = (median(p[n] for p in degrees.values()) for n in (0, 1))
    metres = 111_195.0  # of one degree of a great circle: 6371.0088 km (mean earth radius, IUGG) × π / 180
    shrink = math.cos(math.radians(middle_lat))
    return {
        name: (((lon - middle_lon + 180) % 360 - 180) * metres * shrink, (lat - middle_lat) * metres) for name, (lat, lon) in degrees.items()
    }


def far_off(points: Mapping[str, Point]) -> dict[str, float]:
    """Points that lie far from all others, and how many times the usual distance from the middle."""
    if len(points) < FEWEST:
        return {}
    middle = (median(p[0] for p in points.values()), median(p[1] for p in points.values()))
    away = {name: math.dist(p, middle) for name, p in points.items()}
    usual = median(away.values())
    return {name: far / usual for name, far in away.items() if usual > 0 and far > FAR * usual}


def swapped(degrees: Mapping[str, Point]) -> tuple[str, ...]:
    """Places whose latitude and longitude seem to have changed sides: far off as they are, near the others the other way round."""
    far = far_off(on_a_plane(degrees))
    found = []
    for name in far:
        lat, lon = degrees[name]
        rest = {other: p for other, p in degrees.items() if other not in far}
        if abs(lon) > 90 or len(rest) < FEWEST - 1:
            continue
        turned = on_a_plane({**rest, name: (lon, lat)})
        usual = median(math.hypot(*turned[other]) for other in rest)
        if math.hypot(*turned[name]) <= NEAR * max(usual, 1.0) + 1000:
            found.append(name)
    return tuple(found)

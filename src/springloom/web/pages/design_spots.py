"""Single values of a design by what a maker calls them: what differs, and who chose what."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from springloom.web.pages.design_form import (
    BLADES,
    STATION_KEYS,
    STRIP_KEYS,
    TABLES,
    default_blade,
    in_order,
    shown,
)

NAMES = {
    "paddle.length": "overall length", "loom.length": "loom between the shoulders",
    "loom.width": "width of the loom", "loom.thickness": "thickness of the loom",
    "loom.blend": "blend from shoulder to root", "target.sinks": "wanted: tip sinks",
    "target.under": "wanted: under", "target.within": "wanted: near enough",
    "target.progression": "wanted: progression", "target.like": "wanted: bend like",
    "target.as_light_as_safe": "wanted: as light as is safe",
    "limits.least_crown_mid": "least crown, root to middle",
    "limits.least_crown_tip": "least crown at the tip", "limits.least_edge": "least edge",
    "limits.blank": "thickness of the blank", "limits.margin": "least strength margin",
    "care.plane_pass": "one pass of the plane", "care.target_risk": "risk of passing the target",
    "care.tuning_risk": "risk over all rounds", "care.limit_risk": "risk of passing a limit",
    "care.most_per_round": "most off a face in a round", "care.keep": "stations that stay",
    ".note": "note on the sheet", ".units": "units", ".name": "name", "strip.": "strips",
}
_STATION = {"stations": "station", "width": "width", "crown": "crown", "edge": "edge",
            "ridge": "ridge fullness", "ridge_below": "ridge fullness below",
            "face_share": "share of the upper face"}


@dataclass(frozen=True, slots=True, order=True)
class Spot:
    """One value: its table, its key, and the station it is at."""

    table: str
    key: str
    place: str = ""

    @property
    def name(self) -> str:
        """What a maker calls it."""
        if self.table in BLADES:
            blade = "blade B, " if self.table == "blade_b" else ""
            if self.key == "stations":
                return f"{blade}station {self.place}"
            return f"{blade}{_STATION[self.key]} at {self.place}"
        return NAMES.get(f"{self.table}.{self.key}", f"{self.table} {self.key}")

    @property
    def field(self) -> str:
        """The form field in which one chooses between two of them."""
        return f"choose:{self.table}.{self.key}@{self.place}"


def flat(design: Mapping[str, Any]) -> dict[Spot, str]:
    """Return all of a design's values as texts, in the order of the page."""
    found: dict[Spot, str] = {}
    for name in TABLES:
        for key, value in (design.get(name) or {}).items():
            found[Spot(name, key)] = shown(value)
    for name in BLADES:
        for place, row in rows_of(_blade(design, name)).items():
            for key in STATION_KEYS:
                if key in row:
                    found[Spot(name, key, place)] = shown(row[key])
    strips = design.get("strip") or []
    if strips:
        found[Spot("strip", "")] = " | ".join(_strip(one) for one in strips)
    for key in ("units", "note", "name"):
        if design.get(key):
            found[Spot("", key)] = shown(design[key])
    return found


def _blade(design: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    table: Mapping[str, Any] | None = design.get(name)
    return table or (default_blade(design) if name == "blade" else {})


def _strip(strip: Mapping[str, Any]) -> str:
    edges = ", ".join(f"{key} {shown(strip[key])}" for key in STRIP_KEYS[3:] if key in strip)
    return f"{strip.get('species', '')}{f' ({edges})' if edges else ''}"


def rows_of(blade: Mapping[str, Any]) -> dict[str, dict[str, Any]]:
    """Return a station table row by row, by place."""
    rows: dict[str, dict[str, Any]] = {}
    for i, place in enumerate(blade.get("stations") or ()):
        rows[str(place)] = {key: blade[key][i] for key in STATION_KEYS
                            if blade.get(key) and i < len(blade[key])}
    return rows


def differing(one: Mapping[str, Any], other: Mapping[str, Any]) -> list[Spot]:
    """Return where two designs differ, in the order of the page."""
    first, second = flat(one), flat(other)
    return [spot for spot in {**first, **second} if first.get(spot) != second.get(spot)]


def difference_words(before: Mapping[str, Any], after: Mapping[str, Any], most: int = 3) -> str:
    """Say what was changed: ``crown at 1/2 17.5 to 17``; empty where nothing was."""
    first, second = flat(before), flat(after)
    said = []
    if bool(before.get("blade_b")) != bool(after.get("blade_b")):
        said.append("blades made different" if after.get("blade_b") else "blades made alike")
    for spot in differing(before, after):
        if spot.table == "blade_b" and said[:1] and said[0].startswith("blades made"):
            continue  # a whole blade came or went
        if spot.key == "stations":
            said.append(f"{spot.name} {'added' if spot in second else 'left out'}")
        elif not spot.place or all(_station_of(spot) in one for one in (first, second)):
            said.append(f"{spot.name} {first.get(spot) or 'none'} to "
                        f"{second.get(spot) or 'none'}"[:80])
    more = f"; and {len(said) - most} more" if len(said) > most else ""
    return "; ".join(said[:most]) + more


def _station_of(spot: Spot) -> Spot:
    return Spot(spot.table, "stations", spot.place)


def merged(mine: Mapping[str, Any], theirs: Mapping[str, Any],
           chosen: Collection[Spot]) -> dict[str, Any]:
    """Return ``mine`` with what was chosen of ``theirs``."""
    design = dict(mine)
    for name in BLADES:
        spots = [spot for spot in chosen if spot.table == name]
        if spots:
            rows = _rows_merged(rows_of(_blade(mine, name)), rows_of(_blade(theirs, name)), spots)
            design[name] = in_order(_columns(rows), design)
            if not rows:
                del design[name]
    for spot in chosen:
        if spot.table in TABLES:
            table = dict(design.get(spot.table) or {})
            _take(table, spot.key, (theirs.get(spot.table) or {}).get(spot.key))
            _take(design, spot.table, table or None)
        elif spot.table in {"strip", ""}:
            key = spot.key or spot.table
            _take(design, key, theirs.get(key))
    return design


def _rows_merged(mine: dict[str, dict[str, Any]], theirs: dict[str, dict[str, Any]],
                 spots: Collection[Spot]) -> dict[str, dict[str, Any]]:
    rows = {place: dict(row) for place, row in mine.items()}
    for spot in sorted(spots, key=lambda one: one.key != "stations"):
        row = theirs.get(spot.place)
        if spot.key == "stations":
            _take(rows, spot.place, dict(row) if row else None)
        elif spot.place in rows:
            _take(rows[spot.place], spot.key, (row or {}).get(spot.key))
    return rows


def _columns(rows: Mapping[str, Mapping[str, Any]]) -> dict[str, list[Any]]:
    keys = [key for key in STATION_KEYS if any(key in row for row in rows.values())]
    return {key: [row.get(key, "") for row in rows.values()] for key in keys}


def _take(table: dict[str, Any], key: str, value: Any) -> None:
    if value is None:
        table.pop(key, None)
    else:
        table[key] = value

"""Hanging conventions as data. None is a standard unless it says so; each may be changed."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Guidelines:
    """The rules one job is arranged by."""

    gap_mm: float = 57.0
    """Between frames: 2¼ in; 2 to 3 in is common practice, no source."""
    gap_min_mm: float = 50.0
    gap_max_mm: float = 75.0
    centre_height_mm: float = 1524.0
    """Height of the group's centre above the floor: 60 in; 57 to 60 in is common practice."""
    furniture_share_min: float = 2 / 3
    furniture_share_max: float = 3 / 4
    furniture_clearance_min_mm: float = 150.0
    furniture_clearance_max_mm: float = 250.0
    edge_clearance_mm: float = 100.0
    """From the wall's ends and the ceiling: common practice, no source."""
    zone_clearance_mm: float = 50.0

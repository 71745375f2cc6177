"""Orders to send, as a client writes them."""

from __future__ import annotations

from typing import Any


def small_order(order_id: str, **more: Any) -> dict[str, Any]:
    """A sound order: four walls, one door, one window."""
    return {
        "format": 1,
        "id": order_id,
        "revision": 1,
        "unit": "in",
        "outlines": {
            "main": {
                "corners": [
                    {"id": "a", "at": [0, 0]},
                    {"id": "b", "at": ["16'", 0]},
                    {"id": "c", "at": ["16'", "12'"]},
                    {"id": "d", "at": [0, "12'"]},
                ],
                "walls": ["S", "E", "N", "W"],
            }
        },
        "levels": [{"id": "L1", "outline": "main", "base": 0, "top": "8'"}],
        "openings": [
            {"id": "d1", "on": "L1.S", "kind": "door", "from_left": "5' 4\"", "sill": 0, "width": 36, "height": "6' 8\""},
        ],
        "start": {"corner": "a", "direction": "ccw"},
        "site": {
            "ship_to": {"name": "Plot 1", "lines": ["Mill Lane 1"], "country": "US"},
            "time_zone": "America/Denver",
            "transit_minutes": 240,
            "unload_from": ["left"],
        },
        "deliveries": [{"id": "D1", "need_by": "2031-05-12T07:00", "priority": 1, "parts": ["L1"]}],
        **more,
    }

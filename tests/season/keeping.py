"""What stands in a filled club's stores beside wood: loggers with readings; and what a person would send about it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

Json = Any
SPAN = {"from_at": "2026-01-10T00:00:00Z", "until_at": "2026-01-12T00:00:00Z"}
READINGS = [{"at": f"2026-01-10T{hour:02}:00:00Z", "temp": 2.5, "humidity": 91} for hour in range(6)]
STRETCH = {
    "from_at": "2026-01-10T01:00:00Z",
    "until_at": "2026-01-10T02:00:00Z",
    "why": "it lay on the bench",
}
FILE = "Time,Temp\n2026-01-09 08:00,2.5\n2026-01-09 09:00,2.6\n"
FORM = {"time": "Time", "temp": "Temp", "zone": "Europe/London"}
# Days of a site's air, as a station writes them.
AIR = b"Day,Tmin,Tmax\n2026-01-03,-4,1.5\n2026-01-04,-2,3\n"
AIR_FORM = {"day": "Day", "lowest": "Tmin", "highest": "Tmax", "unit": "C", "order": "ymd"}
DIAL = {"store_id": "$store_id", "now": 3.5, "lowest": 1.0, "highest": 6.5, "reset_done": True}
WEIGHING = {"bundle_id": "$club_bundle", "grams": 412.5, "empty_grams": 12}

API: dict[tuple[str, str], Json] = {
    ("POST", "/api/loggers"): {"name": "A further logger", "store_id": "$store_id"},
    ("PATCH", "/api/loggers/{logger_id}"): {"note": "new battery"},
    ("POST", "/api/loggers/{logger_id}/moves"): {"store_id": "$store_id", "sensor": "pack"},
    ("POST", "/api/loggers/{logger_id}/offsets"): {"offset_c": -0.4, "from_at": "2026-01-10T00:00:00Z"},
    ("POST", "/api/loggers/{logger_id}/left-out"): STRETCH,
    ("POST", "/api/left-out/{stretch_id}/end"): None,
    ("PUT", "/api/loggers/{logger_id}/readings"): {"readings": READINGS},
    ("POST", "/api/loggers/{logger_id}/files"): {"name": "february.csv", "text": FILE},
    ("PUT", "/api/reading-files/{file_id}/form"): FORM,
    ("POST", "/api/reading-files/{file_id}/take"): {},
    ("POST", "/api/reading-files/{file_id}/drop"): None,
    ("POST", "/api/reading-files/{file_id}/taken-back"): None,
    ("POST", "/api/dial-readings"): DIAL,
    ("POST", "/api/dial-readings/{reading_id}/taken-back"): {"why": "mistyped"},
    ("PUT", "/api/stores/{store_id}/limits"): {"heat_c": 8, "heat_hours": 12, "freezing_minutes": 30},
    ("POST", "/api/stores/{store_id}/nominal"): {"temp_c": 4},
    ("POST", "/api/weighings"): WEIGHING,
    ("POST", "/api/packings"): [{"bundle_id": "$club_bundle", "packing": "sand", "waxed": True}],
    ("POST", "/api/shelf-counts"): {"box_id": "$box_id"},
    ("POST", "/api/shelf-counts/{count_id}/scans"): {"code": "$code"},
    ("POST", "/api/shelf-counts/{count_id}/end"): None,
    ("POST", "/api/weighings/{weighing_id}/taken-back"): {"why": "mistyped"},
    ("POST", "/api/store-fruit"): {"store_id": "$store_id", "what": "Bramleys", "from_on": "2026-01-09"},
    ("POST", "/api/store-fruit/{fruit_id}/end"): {"until_on": "2026-01-10"},
}

# Actions of the API on what is no wood: instruments, what they say, and fruit.
TOUCHES_NO_WOOD = {f"{method} {route}" for method, route in API}

QUESTIONS: dict[str, dict[str, str]] = {
    "/api/loggers/{logger_id}/readings": SPAN,
    "/api/loggers/{logger_id}/hours": SPAN,
    "/api/stores/{store_id}/hours": SPAN,
    "/api/sites/{site_id}/air": {"from_day": "2026-01-01", "until_day": "2026-01-31"},
}
# A club's own table of trees.
LIST = b"Variety,Kind,Site\nGravensteiner,Apple,Weir orchard\n"

# Names in routes and bodies, and the names they have among the fixed identities.
NAMES = {
    "list_id": "list",
    "logger_id": "logger",
    "air_file_id": "air_file",
    "stretch_id": "stretch",
    "file_id": "file",
    "reading_id": "dial",
    "fruit_id": "fruit",
    "weighing_id": "weighing",
    "count_id": "count",
}
READ_BY = {
    "/air-files/{air_file_id}/taken-back": {"air_file_id": "taken_air_file"},
    "/api/reading-files/{file_id}/taken-back": {"file_id": "taken_file"},
    "/api/lists/{list_id}/take-back": {"list_id": "taken_list"},
    "/lists/{list_id}/take-back": {"list_id": "taken_list"},
    "/reading-files/{file_id}/taken-back": {"file_id": "taken_file"},
}


def fill_stores(winter: Any, client: Callable[[str], Any], fixed: Callable[[str], str]) -> None:
    """A logger in the fridge, with readings and a stretch that is left out."""
    hung = {
        "id": fixed("logger"), "name": "Grey logger", "store_id": fixed("store"), "from_at": "2026-01-09T00:00:00Z",
    }  # fmt: skip
    winter.send("host", "/loggers", hung)
    sent = client("host").put(f"/api/loggers/{fixed('logger')}/readings", json={"readings": READINGS})
    assert sent.status_code == 200, sent.text
    for name in ("file", "taken_file"):
        body = {"id": fixed(name), "name": f"{name}.csv", "text": FILE}
        winter.send("host", f"/loggers/{fixed('logger')}/files", body)
        told = client("host").put(f"/api/reading-files/{fixed(name)}/form", json=FORM)
        assert told.status_code == 200, told.text
    winter.send("host", f"/reading-files/{fixed('taken_file')}/take", {})
    winter.send("host", "/dial-readings", {**DIAL, "id": fixed("dial"), "store_id": fixed("store")})
    winter.send(
        "host", "/weighings", {**WEIGHING, "id": fixed("weighing"), "bundle_id": fixed("spare_bundle")}
    )
    winter.send("host", "/shelf-counts", {"id": fixed("count"), "box_id": fixed("box")})
    fruit = {"id": fixed("fruit"), "store_id": fixed("store"), "what": "russets", "from_on": "2026-01-05"}
    winter.send("host", "/store-fruit", fruit)
    stretch = {"id": fixed("stretch"), **STRETCH}
    winter.send("host", f"/loggers/{fixed('logger')}/left-out", stretch)
    for name in ("list", "taken_list"):
        address = f"/api/lists?list_id={fixed(name)}&sort=trees"
        sent_list = client("steward").post(address, content=LIST, headers={"Content-Type": "text/csv"})
        assert sent_list.status_code == 201, sent_list.text
    winter.send("steward", f"/lists/{fixed('taken_list')}/take", {})
    for name in ("air_file", "taken_air_file"):
        told = {"form_key": fixed(name), "measured_file": "the station at the mill"}
        file = {"file": ("station.csv", AIR, "text/csv")}
        steward = client("steward")
        assert steward.submit(f"/sites/{fixed('site')}/air/files", told, files=file).status_code == 303
        assert steward.submit(f"/air-files/{fixed(name)}/form", dict(AIR_FORM)).status_code == 303
    assert steward.submit(f"/air-files/{fixed('taken_air_file')}/take").status_code == 303

"""A logger's file on pages: sent, looked at, its columns told once, taken whole or not at all; and fruit beside the wood."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest

from service.members.rules import Role
from service.storage.actions import leave_out
from service.storage.schemas import LeftOutCreate
from tests.bad_input.desk import PAGE, check_page, words_of
from tests.builders.loggers import make_logger, steady
from tests.builders.loggers import send as send_readings
from tests.builders.storage import ago, make_ground, make_store
from tests.pages.desk import fresh, opened, read, send, told_next


@pytest.fixture
def ground(writer):
    return make_ground(writer)


@pytest.fixture
def store(writer, ground):
    return make_store(writer, ground)


@pytest.fixture
def host(as_):
    return as_(Role.HOST)


def send_file(host, path: str, text: str, name: str = "february.csv") -> str:
    form = fresh(read(host, path))
    answer = host.post(
        f"{path}/files", data=form, files={"file": (name, text.encode(), "text/csv")}, headers=PAGE
    )
    assert answer.status_code == 303, words_of(answer)
    return str(answer.headers["location"])


def add_logger(host, store) -> str:
    form = opened(host, "/loggers", name="Grey logger", store_id=str(store.id), sensor="air")
    answer = send(host, "/loggers", form)
    assert answer.status_code == 303, words_of(answer)
    return str(answer.headers["location"])


FILE = "Date/Time,Celsius,%RH\n09/02/2026 08:00,2.5,91\n09/02/2026 09:00,2.6,90\n09/02/2026 10:00,2.7,90\n"
FORM = {
    "time": "Date/Time",
    "temp": "Celsius",
    "humidity": "%RH",
    "unit": "C",
    "zone": "Europe/London",
    "order": "dmy",
}


def form_of(host, file: str, **told: str) -> dict[str, str]:
    return {**fresh(read(host, file)), **FORM, **told}


def test_a_file_is_looked_at_its_columns_told_once_and_taken(host, store):
    logger = add_logger(host, store)
    file = send_file(host, logger, FILE)

    assert "How is it to be read?" in words_of(read(host, file))
    told_next(host, send(host, f"{file}/form", form_of(host, file)))
    seen = words_of(read(host, file))
    after = told_next(host, send(host, f"{file}/take", fresh(read(host, file))))

    assert "3 new of 3 readings" in seen and "Lowest 2.5 °C" in seen and "Every 60 minutes" in seen
    assert "3 readings came into the record." in after
    assert "last wrote 9 February 2026, 11:00" in words_of(read(host, logger))
    again = send_file(host, logger, FILE)
    assert "0 new of 3 readings" in words_of(read(host, again))  # read as it was told before
    back = told_next(host, send(host, f"{file}/taken-back", fresh(read(host, file))))
    assert "its readings count no more" in back


@pytest.mark.parametrize(
    ("text", "form", "says"),
    [
        (FILE.replace("2.6", "400"), {}, "1 row cannot be used"),
        (FILE.replace("2.6", "275.9"), {}, "1 row cannot be used"),  # Kelvin
        ("a,b\n1,2\n", {}, "No line of it has both a time and a number."),
    ],
    ids=["400 degrees", "Kelvin", "no time in it"],
)
def test_what_is_odd_about_a_file_is_told_before_anything_is_taken(host, store, text, form, says):
    file = send_file(host, add_logger(host, store), text)
    if says.startswith("1 row"):
        told_next(host, send(host, f"{file}/form", form_of(host, file, **form)))

    page = words_of(read(host, file))
    refused = send(host, f"{file}/take", fresh(read(host, file)))

    assert says in page
    assert refused.status_code in (409, 422)
    if says.startswith("1 row"):
        assert "Line 3" in page
        form = {**fresh(read(host, file)), "leave_faulty": "true"}
        assert "2 readings came into the record." in told_next(host, send(host, f"{file}/take", form))


def test_a_zone_that_is_none_is_told_before_anything_is_taken(host, store):
    file = send_file(host, add_logger(host, store), FILE)

    told_next(host, send(host, f"{file}/form", form_of(host, file, zone="Middle-earth/Shire")))

    assert "It cannot be read so" in words_of(read(host, file))
    assert "Middle-earth/Shire" in words_of(read(host, file))


def test_a_mean_that_no_store_has_is_asked_about(host, store):
    warm = FILE.replace("2.5", "36.5").replace("2.6", "36.7").replace("2.7", "36.9")
    file = send_file(host, add_logger(host, store), warm)
    told_next(host, send(host, f"{file}/form", form_of(host, file)))

    page = words_of(read(host, file))
    refused = send(host, f"{file}/take", fresh(read(host, file)))
    told_next(host, send(host, f"{file}/form", form_of(host, file, unit="F")))
    mended = read(host, file)

    assert "On average it says 36.7 °C, which is 2.6 °C if it is written in °F." in page
    check_page(refused, 422, "say that it is right")
    assert "Is it the right unit?" not in words_of(mended)
    assert "3 readings came into the record." in told_next(host, send(host, f"{file}/take", fresh(mended)))


def test_fruit_goes_in_since_a_day_and_out_on_one(host, store):
    path = f"/store/{store.id}/fruit"
    assert "No fruit lies beside the wood" in words_of(read(host, path))

    told_next(
        host,
        send(host, path, opened(host, path, what="a tray of Bramleys", from_on="2026-02-10", amount="ripe")),
    )
    inside = read(host, path)
    assert "a tray of Bramleys, in since 10 February 2026" in words_of(inside)
    assert "a tray of Bramleys lies in it since" in words_of(read(host, f"/my-fridge?store={store.id}"))
    action = re.search(r'action="([^"]+/out)"', inside.text)[1]
    early = send(host, action, {**fresh(inside), "until_on": "2026-02-01"})
    after = told_next(host, send(host, action, {**fresh(inside), "until_on": "2026-02-12"}))

    check_page(early, 422, at="until_on")
    assert "The fruit is out." in after and "No fruit lies beside the wood" in after


def test_a_loggers_page_tells_its_gaps_what_never_moved_and_what_may_be_the_other_unit(
    host, store, writer, ground
):
    logger = make_logger(writer, ground, store_id=store.id).id
    begin = ago(days=30)
    moving = [(begin + timedelta(hours=hour), round(3 + (hour * 7 % 5) / 10, 1)) for hour in range(24)]
    send_readings(writer, ground, logger, moving)
    before = words_of(read(host, f"/loggers/{logger}"))
    send_readings(writer, ground, logger, steady(begin + timedelta(days=3), 21 * 24, "3.2"))
    send_readings(
        writer,
        ground,
        logger,
        [(begin + timedelta(days=25, hours=hour), ("38.0", "38.4")[hour % 2]) for hour in range(12)],
    )

    page = words_of(read(host, f"/loggers/{logger}"))

    assert "nothing moves" not in before and "Gaps" not in before
    assert "504 readings of 3.2 °C, one like the other" in page
    assert page.partition("Gaps: nothing was written")[2].count("nothing was measured") == 2
    assert "if it is written in °F" in page

    out = LeftOutCreate(
        from_at=begin + timedelta(days=2), until_at=begin + timedelta(days=24, hours=1), why="stuck"
    )
    writer.write_now(leave_out, ground.host, logger, out)

    assert "nothing moves" not in words_of(read(host, f"/loggers/{logger}"))


def test_a_file_with_a_row_too_many_is_refused_when_it_is_sent(host, store):
    """250,000 rows a file is the limit of uploads; the page and the program are told to split it, and nothing is kept."""
    logger = add_logger(host, store)
    text = "Time,Temp\n" + "2026-01-10 08:00,2.5\n" * 250_001

    page = host.post(
        f"{logger}/files",
        data=fresh(read(host, logger)),
        files={"file": ("year.csv", text.encode(), "text/csv")},
        headers=PAGE,
    )
    program = host.post(f"/api{logger}/files", json={"name": "year.csv", "text": text})

    check_page(page, 413, "Split it: export a shorter time")
    assert program.status_code == 413
    assert "250,000 rows; this one has more" in program.json()["detail"]
    assert "Split it" in program.json()["todo"]
    assert host.get(f"/api{logger}/files").json()["items"] == []

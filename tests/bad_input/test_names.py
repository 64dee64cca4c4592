"""Names of every script and length come back as they were sent, on every way out; what is no name is refused."""

from __future__ import annotations

import html
import unicodedata
from collections.abc import Callable

import pypdfium2
import pytest

from service.lib.codes import group_code
from tests.bad_input.desk import PAGE, Club, Json, check_page, check_problem

NAMES = {
    "quotes": "‘Ashmead’s’ \"Kernel\" & 'Son'",
    "emoji": "🍏🪓👩🏽‍🌾 tree",
    "300 letters": "ö" * 300,
    "300 beyond the basic plane": "🍐" * 300,
    "right-to-left": "שלום עולם \u202eabc",
    "combining": unicodedata.normalize("NFC", "Ze\u0301lee\u0308 a\u0331\u0308\u0301\u0327"),
    "non-Latin": "Антоновка 富士 ふじ ฝรั่ง",
    "a script": "<script>alert(1)</script>",
    "an entity": "&lt;b&gt; &amp; %41 {{ 7*7 }} ${x}",
    "SQL": "'; drop table bundle; --",
    "joiners": "क्‍ष \u200d\u200c",
}  # fmt: skip
TOO_LONG = "x" * 301
CONTROLS = {
    "NUL": "a\x00b",
    "bell": "a\x07b",
    "escape": "\x1b[2J",
    "a line end": "a\nb",
    "line separator": "a\u2028b",
    "C1": "a\x85b",
}


def of(made: Json) -> Json:
    return made[0] if isinstance(made, list) else made


def site(club: Club, name: str) -> tuple[str, Json]:
    return "/sites", [{"name": name, "area_id": str(club.orchard.area_id)}]


def store(club: Club, name: str) -> tuple[str, Json]:
    return "/stores", {"name": name, "host_id": str(club.cast.host.party_id)}


def tree(club: Club, name: str) -> tuple[str, Json]:
    told = {"site_id": str(club.orchard.site_id), "taxon_id": str(club.orchard.apple_id), "may_cut": "yes"}
    return "/trees", [{**told, "name_as_told": name}]


def receipt(club: Club, name: str) -> tuple[str, Json]:
    told = {"taxon_id": str(club.orchard.apple_id), "area_id": str(club.orchard.area_id), "sticks": 2}
    return "/receipts", [{**told, "name_as_told": name, "from_whom": name}]


# Every thing with a name: how to make it, its field, and where it is read again.
THINGS: dict[str, tuple[Callable[[Club, str], tuple[str, Json]], str, str]] = {
    "party": (lambda club, name: ("/parties", [{"kind": "guest", "name": name}]), "name", "/parties/{id}"),
    "area": (lambda club, name: ("/areas", [{"name": name}]), "name", "/areas/{id}"),
    "site": (site, "name", "/sites/{id}"),
    "store": (store, "name", "/stores/{id}"),
    "box": (lambda club, name: ("/boxes", {"name": name}), "name", "/boxes/{id}"),
    "tree": (tree, "name_as_told", "/trees/{id}"),
    "receipt": (receipt, "name_as_told", "/collections/{id}"),
    "cultivar": (
        lambda club, name: ("/cultivars", {"taxon_id": str(club.orchard.apple_id), "epithet": name}), "epithet", "/cultivars/{id}",
    ),
}  # fmt: skip
LONGEST = {"store": 200, "box": 100}  # what is printed large on a door or a crate


def fitting(thing: str, name: str) -> str:
    """The longest that this thing takes of a name."""
    if (
        thing == "cultivar"
    ):  # the marks around an epithet are its writing, and those in it are made plain (ICNCP, Art. 14)
        name = name.replace("’", "'").strip("‘'")
    return name[: LONGEST.get(thing, 300)]


@pytest.mark.parametrize("thing", THINGS)
def test_names_come_back_as_they_were_sent(club: Club, thing: str) -> None:
    make, field, address = THINGS[thing]
    for which, told in NAMES.items():
        name = fitting(thing, told)

        made = of(club.made(*make(club, name), who="administrator"))

        assert made[field] == name, which
        assert club.get(address.format(id=made["id"]), "administrator")[field] == name, which


@pytest.mark.parametrize("thing", THINGS)
def test_a_name_that_is_too_long_or_holds_control_signs_is_refused(club: Club, thing: str) -> None:
    make, field, _ = THINGS[thing]

    with club.nothing_written():
        for name in ("x" * (LONGEST.get(thing, 300) + 1), *CONTROLS.values()):
            answer = club.post(*make(club, name), who="administrator")
            told = check_problem(answer, 422, "unusable")
            assert any(wrong["at"].endswith(field) for wrong in told["errors"]), (name, told)


@pytest.mark.parametrize("which", NAMES)
def test_a_name_stands_on_its_pages_and_is_never_read_as_marks(club: Club, which: str) -> None:
    name = NAMES[which]
    made = of(club.made(*tree(club, name)))

    (bundle,) = club.cut(3, tree_id=made["id"])
    page = club.page(f"/trees/{made['id']}")
    scanned = club.browser("stranger").get(f"/T/{bundle['code']}", headers=PAGE)

    for shown in (page, scanned, club.page(f"/bundles/{bundle['id']}")):
        assert shown.status_code == 200
        assert html.escape(name, quote=False) in shown.text.replace("&#34;", '"').replace("&#39;", "'"), which
        assert "<script>alert" not in shown.text


@pytest.mark.parametrize("which", NAMES)
def test_a_name_stands_in_the_answer_of_a_scan_and_its_labels_are_drawn(club: Club, which: str) -> None:
    name = NAMES[which]
    made = of(club.made(*tree(club, name)))
    (bundle,) = club.cut(3, tree_id=made["id"])

    card = club.get(f"/tags/{bundle['code']}/answer", "stranger")["card"]
    sheet = club.post("/label-sheets", {"codes": [bundle["code"]], "sheet": "a4-3x7"})

    assert name in card["name"].values()
    assert sheet.status_code == 201, sheet.text
    pdf = pypdfium2.PdfDocument(sheet.content)
    assert len(pdf) == 1
    assert group_code(bundle["code"]) in " ".join(pdf[0].get_textpage().get_text_range().split())


@pytest.mark.parametrize("which", CONTROLS)
def test_a_form_with_control_signs_says_so_at_the_field(club: Club, which: str) -> None:
    form = {"name": f"Crate {CONTROLS[which]}", "note": "by the door"}

    with club.nothing_written():
        page = club.submit("/store/box", form, "host")

    check_page(
        page, 422, "control characters", "Nothing was written.", at="name", keeps={"note": "by the door"}
    )


def test_a_form_with_a_name_too_long_says_so_and_keeps_it(club: Club) -> None:
    bundle = club.bundle(3)
    form = {"sticks": "1", "form": "flag", "guest": TOO_LONG, "guest_area": str(club.orchard.area_id)}

    with club.nothing_written():
        page = club.submit(f"/hand-over/{bundle['id']}", form)

    check_page(page, 422, "300 letters at most", "Nothing was written.", at="guest", keeps=form)


LOOKED_FOR = ("%00", "%ED%A0%80", "%FF%FE", "%F0%9F%8D%8F", "%25_%25", "%27%22", "x" * 5000)


@pytest.mark.parametrize(
    "address",
    [
        "/api/parties?q={}", "/api/trees?q={}", "/api/cultivars?q={}", "/api/cultivars/search?q={}", "/trees?q={}", "/look-up?q={}",
        "/people?q={}", "/cut?q={}", "/T/{}", "/api/tags/{}", "/api/parties/names?q={}", "/stops/new?agent={}&tree={}",
        "/hand-over?party={}",
    ],
)  # fmt: skip
def test_whatever_is_looked_for_is_answered(club: Club, address: str) -> None:
    """What can be in no name finds nothing, or is refused; it is no fault of the service."""
    told = {"Accept": "application/json" if address.startswith("/api") else "text/html"}
    browser = club.browser("administrator")

    heard = {
        typed[:9]: browser.get(address.replace("{}", typed), headers=told).status_code for typed in LOOKED_FOR
    }

    assert {typed: status for typed, status in heard.items() if status not in (200, 303, 400, 404, 422)} == {}

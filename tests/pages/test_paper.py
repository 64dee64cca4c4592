"""Sheets to print: whole on A4 and Letter, every row there, nothing cut off, headings on every page."""

from __future__ import annotations

import re
from types import SimpleNamespace

import pypdfium2
import pytest

from service.members.rules import PartyKind, Role
from service.members.signin import SESSION_COOKIE
from service.pages.paper.of_wood import _kind_in_hall
from service.pages.paper.sheets import without_contacts
from service.trees import actions
from service.trees.schemas import SiteUpdate, TreeCreate
from tests.bad_input.desk import words_of
from tests.builders import storage
from tests.builders.bundles import make_bundle, make_cutting
from tests.builders.members import make_asker, make_party, make_session
from tests.builders.trees import look, make_orchard, stop
from tests.infra.browser_checks import check_page
from tests.infra.web import live

# Paper as ISO 216 and ANSI/ASME Y14.1 give it, in points of 1/72 inch, rounded.
SIZES = {"A4": (595, 842), "Letter": (612, 792)}
LONG = "The Very Long-Named Winter Cooking Pippin of the Upper Mill Lane Beside the Old Railway, second of that name"
CUT_OFF = """() => [
  ...[...document.querySelectorAll('.paper td, .paper th, .paper dd, .slip')]
    .filter(e => e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 1),
  ...[...document.querySelectorAll('.sheet thead th')].filter(e => e.clientWidth < 60),  // 16 mm: less breaks words in two
].map(e => e.textContent.trim().slice(0, 60))"""


@pytest.fixture
def steward(writer):
    return make_asker(writer, Role.STEWARD, Role.COLLECTOR, name="Runa Vestergård")


@pytest.fixture
def ground(writer, steward):
    """A site with sixty trees, some with long names, one stopped, one whose owner says no, one that was seen in leaf."""
    orchard = make_orchard(writer, steward)
    trees = [
        TreeCreate(
            site_id=orchard.site_id, taxon_id=orchard.apple_id, owner_id=steward.party_id,
            name_as_told=f"Apple {n}" if n % 7 else f"{LONG} {n}",
            where_on_site=f"row {n // 20 + 1}, {n % 20 + 1}", may_cut="no" if n == 3 else "yes", most_sticks=12 if n == 5 else None,
        )
        for n in range(60)
    ]  # fmt: skip
    made = writer.write_now(actions.add_trees, steward, trees)
    look(writer, steward, made[4].id)
    stop(writer, make_asker(writer, Role.HEALTH_STEWARD), made[10].id, agent="fire-blight")
    return orchard, [tree.id for tree in made]


def printed(page, address: str, size: str) -> list[str]:
    """The words of each page of the PDF that Chromium makes; its paper is measured on the way."""
    page.goto(address)
    document = pypdfium2.PdfDocument(page.pdf(format=size, print_background=True))
    try:
        for sheet in document:
            assert tuple(round(side) for side in sheet.get_size()) == pytest.approx(SIZES[size], abs=1)
        return [" ".join(sheet.get_textpage().get_text_range().split()) for sheet in document]
    finally:
        document.close()


@pytest.fixture
def open_page(app, chromium, writer, steward):
    signed_in = make_session(writer, steward)
    with live(app) as address:
        context = chromium.new_context(viewport={"width": 1280, "height": 900})
        context.add_cookies([{"name": SESSION_COOKIE, "value": signed_in.token, "url": address}])
        yield context.new_page(), address
        context.close()


def cut_off(page, size: str) -> list[str]:
    """What does not fit its cell when laid out for print on this paper, margins of 12 mm taken off."""
    width = round((SIZES[size][0] / 72 - 24 / 25.4) * 96)
    page.set_viewport_size({"width": width, "height": 900})
    page.emulate_media(media="print")
    found = page.evaluate(CUT_OFF)
    page.emulate_media(media="screen")
    return found


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize("size", list(SIZES))
@pytest.mark.parametrize("sheet", ["round", "cut"])
def test_sheets_of_a_site_have_every_row_and_headings_on_every_page(open_page, ground, size, sheet):
    page, address = open_page
    orchard, _ = ground

    pages = printed(page, f"{address}/paper/{sheet}/{orchard.site_id}", size)

    named = {int(found) for found in re.findall(r"Apple (\d+)\b", " ".join(pages))}
    long = sum(words.count(LONG[:20]) for words in pages)
    listed = set(range(60)) - ({3, 10} if sheet == "cut" else set())
    assert named == {number for number in listed if number % 7}
    assert long == len(named ^ listed)
    assert len(pages) in range(4, 9)
    for number, words in enumerate(pages, 1):
        assert "Pencil first: enter it later with its own date." in words
        assert "printed 14 February 2026" in words
        assert "In leaf" in words if sheet == "round" else "At most" in words
        assert f"page {number} of {len(pages)}" in words
    assert cut_off(page, size) == []


def test_a_cut_list_leaves_out_what_may_not_be_cut_and_warns_of_what_nobody_saw(as_, ground):
    orchard, _ = ground
    page = as_(Role.COLLECTOR).get(f"/paper/cut/{orchard.site_id}")
    rows = page.text.split('<tr class="told-row">')[1:]
    names = [re.search(r"<bdi>(.*?) \(as told\)</bdi>", row)[1] for row in rows]

    assert "Apple 3" not in names and "Apple 10" not in names
    assert len(names) == 58
    assert "2 other trees are not to be cut" in page.text
    by_name = dict(zip(names, rows, strict=True))
    assert "never seen in leaf" in by_name["Apple 5"] and "<td>12</td>" in by_name["Apple 5"]
    assert "seen in leaf" not in by_name["Apple 4"] and "<td>no limit</td>" in by_name["Apple 4"]


def test_a_stopped_tree_says_so_on_the_round_sheet(as_, ground):
    orchard, _ = ground
    rows = as_(Role.HOST).get(f"/paper/round/{orchard.site_id}").text.split('<tr class="told-row">')[1:]

    stopped = [row for row in rows if "STOPPED" in row]
    assert len(rows) == 60
    assert len(stopped) == 1 and "Apple 10" in stopped[0] and "fire blight" in stopped[0]


def test_no_sheet_shows_numbers_and_addresses_of_people(as_, ground, writer, steward):
    orchard, _ = ground
    gate = "Mrs Odell, the blue door, 0171 555 0100 or odell@odell.example"
    writer.write_now(actions.change_site, steward, orchard.site_id, SiteUpdate(gate=gate), 1)
    page = words_of(as_(Role.COLLECTOR).get(f"/paper/cut/{orchard.site_id}"))

    assert "Mrs Odell, the blue door, (in the record) or (in the record)" in page
    assert "0171" not in page and "odell.example" not in page


@pytest.mark.parametrize(
    ("told", "printed_as"),
    [
        ("key at no. 12, house 3", "key at no. 12, house 3"),
        ("ring +44 (0)171 555-0100", "ring (in the record)"),
        ("0171/5550100, row 2", "(in the record), row 2"),
        ("since 2019 the blue door", "since 2019 the blue door"),
    ],
)
def test_telephone_numbers_are_told_from_other_figures(told, printed_as):
    assert without_contacts(told) == printed_as


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize("size", list(SIZES))
@pytest.mark.parametrize("pages", [1, 3])
def test_guest_slips_are_four_a_page(open_page, size, pages):
    page, address = open_page

    got = printed(page, f"{address}/paper/slips?pages={pages}", size)

    assert [words.count("What I took") for words in got] == [4] * pages
    assert cut_off(page, size) == []


@pytest.fixture
def wood(writer, steward):
    """Two bundles of the club and one that somebody has."""
    cutting = make_cutting(writer, steward)
    return [make_bundle(writer, steward, cutting, sticks=sticks) for sticks in (7, 5)]


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize("size", list(SIZES))
def test_the_hall_list_and_the_want_sheet_name_every_variety_that_is_free(open_page, wood, size):
    page, address = open_page

    hall = printed(page, f"{address}/paper/hall", size)
    assert cut_off(page, size) == []
    wants = printed(page, f"{address}/paper/wants", size)
    assert cut_off(page, size) == []

    assert (len(hall), len(wants)) == (1, 1)
    assert "12" in hall[0] and "Other stocks" in hall[0]
    assert "My order" in wants[0]


def test_a_want_sheet_carries_ones_own_name_and_nobody_elses(as_, writer):
    other = make_party(writer, "Old Mr Pettifer", PartyKind.GUEST)
    member = as_(Role.MEMBER)

    assert "Old Mr Pettifer" not in member.get(f"/paper/wants?party={other.id}").text
    assert "Old Mr Pettifer" in as_(Role.HOST).get(f"/paper/wants?party={other.id}").text


def test_a_year_is_ones_own_unless_one_may_know_who_has_what(as_, writer, steward, wood):
    address = f"/paper/year/{steward.party_id}"
    page = as_(Role.HOST).get(address)

    assert page.status_code == 200
    assert "<bdi>Cut</bdi>" in page.text
    assert as_(Role.MEMBER).get(address).status_code == 403


def test_every_sheet_stands_on_one_page_that_says_what_it_is_for(as_, ground):
    orchard, _ = ground
    steward, member = as_(Role.STEWARD).get("/paper").text, as_(Role.MEMBER).get("/paper").text

    for address in (
        f"/paper/round/{orchard.site_id}", f"/paper/cut/{orchard.site_id}", "/paper/hall", "/paper/slips", "/paper/pick-up",
    ):  # fmt: skip
        assert f'href="{address}"' in steward
    assert "/paper/slips" not in member and "/paper/cut/" not in member
    assert 'href="/paper"' in as_(Role.MEMBER).get("/").text


@pytest.mark.databases("sqlite")
def test_the_pages_around_paper_have_no_fault_that_axe_knows(app, phone, ground, writer, steward):
    orchard, _ = ground
    signed_in = make_session(writer, steward)
    with live(app) as address:
        phone.context.add_cookies([{"name": SESSION_COOKIE, "value": signed_in.token, "url": address}])
        for path in ("/paper", f"/paper/cut/{orchard.site_id}", "/paper/slips", "/paper/hall"):
            phone.goto(address + path)
            check_page(phone)


# -- what lies in store ------------------------------------------------------------------------------------------------


def place_of(store, name: str):
    return next(place.id for place in store.places if place.name == name)


@pytest.fixture
def fridge(writer):
    """A store with two shelves and a box; ninety bundles of one cut, every third in the box."""
    there = storage.make_ground(writer)
    store = storage.make_store(writer, there, places=["top shelf", "bottom shelf"])
    box = storage.make_box(writer, there, place_id=place_of(store, "bottom shelf"))
    ids = storage.make_bundles(writer, there, 90)
    for begin in range(0, 90, 30):
        storage.put(
            writer, there.host, *(
                {"bundle_id": id, **({"into_box_id": box.id} if n % 3 == 0 else {"place_id": place_of(store, "top shelf")})}
                for n, id in enumerate(ids[begin : begin + 30], begin)
            ),
        )  # fmt: skip
    return there, store, ids


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize("size", list(SIZES))
def test_a_shelf_list_has_every_bundle_by_place_and_box_and_headings_on_every_page(open_page, fridge, size):
    page, address = open_page
    _, store, ids = fridge

    pages = printed(page, f"{address}/paper/shelves/{store.id}", size)

    assert sum(words.count("there") for words in pages) >= len(ids)
    assert page.locator(".told-row").count() == len(ids)
    assert sum("top shelf" in words for words in pages) == 1
    assert sum("Blue crate" in words for words in pages) == 1
    for words in pages:
        assert "Counted" in words and "Pencil first" in words
    assert cut_off(page, size) == []


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize("size", list(SIZES))
def test_what_is_to_be_fetched_stands_under_the_name_it_is_for(open_page, fridge, writer, size):
    page, address = open_page
    there, store, _ = fridge
    for id in storage.make_bundles(writer, there, 2, holder_id=there.host.party_id):
        storage.put(writer, there.host, {"bundle_id": id, "place_id": place_of(store, "top shelf")})

    pages = printed(page, f"{address}/paper/pick-up", size)

    assert len(pages) == 1
    assert page.locator(".told-row").count() == 2
    assert "Anna Quist" in pages[0] and store.name in pages[0] and "top shelf" in pages[0]
    assert cut_off(page, size) == []


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize("size", list(SIZES))
def test_a_year_sheet_fits_its_paper(open_page, wood, steward, size):
    page, address = open_page

    pages = printed(page, f"{address}/paper/year/{steward.party_id}", size)

    assert len(pages) == 1 and "The year of Runa Vestergård" in pages[0] and "Cut" in pages[0]
    assert cut_off(page, size) == []


def test_the_hall_list_tells_stocks_once_for_a_kind_and_at_a_variety_only_what_differs():
    bundle = SimpleNamespace(code="0ND7H8NW", free=3)
    usual = ["M.9", "M.26", "MM.106"]
    told = [
        ("Alba", [bundle], usual),
        ("Brune", [bundle], usual),
        ("Clair", [bundle], ["M.9", "MM.106", "quince"]),
    ]

    group = _kind_in_hall("apple", told)

    assert group.under == "May be grafted on M.9, M.26, MM.106."
    assert [row[2] for row in group.rows] == ["", "", "also on quince; not on M.26"]
    assert group.rows[0][0].under == ("0ND7\N{NO-BREAK SPACE}H8NW",)


def test_the_printed_slip_has_as_many_rows_as_its_form(as_):
    host = as_(Role.HOST)
    slip = host.get("/paper/slips").text.partition('<section class="slip">')[2].partition("</section>")[0]

    assert slip.count("<tr><td") == 8 == host.get("/hand-over/slip").text.count('name="sticks.')

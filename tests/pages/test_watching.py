"""What rang, what is due and what was not mailed, on the host's page and the stewards'; a mistyped dial taken back."""

from __future__ import annotations

import pytest
from sqlalchemy import update

from service.catalogue.tables import StorageLimit, Taxon
from service.lib.jobs import Kind, NotWorthAnotherTry, Worker, enqueue
from service.lib.mail import Post
from service.members import actions as member_actions
from service.members.rules import Role
from service.members.schemas import PartyUpdate
from service.pages.watching import UNDONE_WORDS
from service.storage import actions, schemas
from tests.bad_input.desk import words_of
from tests.builders.garage import Garage
from tests.builders.loggers import steady
from tests.builders.members import make_asker, make_session, party_version
from tests.builders.storage import ago, make_bundles, put
from tests.infra.mail_server import mail_server
from tests.pages.desk import opened, read, send, told_next


@pytest.fixture
def garage(database, writer, clock):
    return Garage(database, writer, clock)


@pytest.fixture
def host(browser, writer, garage):
    return browser(make_session(writer, garage.host))


@pytest.fixture
def steward(browser, writer, garage):
    return browser(make_session(writer, garage.steward))


def test_who_only_has_a_fridge_begins_at_it_and_finds_it_in_the_menu(host, steward):
    begun = host.get("/")
    whole = read(host, "/?whole=yes")

    assert (begun.status_code, begun.headers["location"]) == (303, "/my-fridge")
    assert '<a href="/my-fridge">My fridge</a>' in whole.text
    assert 'href="/?whole=yes"' in read(host, "/my-fridge").text
    assert steward.get("/").status_code == 200
    assert '<a href="/my-fridge">My fridge</a>' not in steward.get("/").text


def test_a_host_without_a_store_or_with_more_to_do_begins_at_the_start_page(as_):
    assert as_(Role.HOST).get("/").status_code == 200
    assert as_(Role.HOST, Role.COLLECTOR).get("/").status_code == 200


def test_a_frost_stands_on_the_hosts_page_with_what_to_do_and_on_the_stewards(garage, host, steward):
    garage.send(garage.logger(), steady(ago(hours=8), 4, 3.0), steady(ago(hours=4), 4, -8.0))

    mine = " ".join(words_of(read(host, "/my-fridge")).split())
    theirs = " ".join(words_of(read(steward, "/looks-due")).split())
    first = words_of(read(steward, "/"))

    assert "It froze: see to the wood now" in mine
    assert "What to do" in mine
    assert "Do not warm frozen wood with your hands" in mine
    assert (
        "Freezing: -8.0 °C at worst, 4 hours beyond the limit of -6.4 °C, and no end was measured told at once"
        in mine
    )
    assert "It froze in Garage fridge, and no end was measured" in theirs
    assert "Bram Oosterlaan : not mailed: no e-mail address is known" in theirs
    assert "It froze in Garage fridge: see to the wood" in first
    assert 'href="/looks-due"' in read(steward, "/").text


def as_avocado(garage):
    """The reference's row of avocado: kept at 5 to 8 °C, a tenth of the buds killed at -1 °C, so it rings at 2 °C."""

    def tell(session):
        told = {
            "store_temp_min_c": 5,
            "store_temp_max_c": 8,
            "freeze_kill10_c": -1,
            "species_group": "avocado",
        }
        session.execute(update(StorageLimit).values(**told))
        session.execute(update(Taxon).values(species_group="avocado"))

    garage.writer.write_now(tell, None)


def test_wood_that_was_too_cold_and_did_not_freeze_is_told_so_and_sent_where_it_is_kept(
    garage, host, steward
):
    as_avocado(garage)
    garage.send(garage.logger(), steady(ago(hours=8), 4, 6.0), steady(ago(hours=4), 4, 1.5))

    mine = " ".join(words_of(read(host, "/my-fridge")).split())
    drawn = words_of(read(steward, f"/store/{garage.store.id}/temperature"))

    assert "It is too cold: see to the wood now" in mine
    assert "Move the wood to a place of 5 to 8 °C" in mine
    assert "Cold: 1.5 °C at worst, 4 hours beyond the limit" in mine
    assert "It is too cold: see to the wood now" in drawn
    assert "It was too cold in Garage fridge" in words_of(read(steward, "/looks-due"))
    assert "It is too cold in Garage fridge: see to the wood" in words_of(read(steward, "/"))
    assert {subject for _, subject in garage.told()} == {"It is too cold"}
    assert "It froze" not in mine + drawn


def test_a_dial_rings_on_the_page_at_once_before_any_job_has_run(garage, host):
    form = opened(host, "/my-fridge", now="-8", sure="true")

    told = told_next(host, send(host, "/my-fridge", form))

    assert "It froze: see to the wood now" in told


def test_a_mistyped_dial_is_taken_back_on_a_page_and_stands_crossed_out(garage, host):
    made = garage.dial(now="-8")
    assert "What rang" in words_of(read(host, "/my-fridge"))
    page = f"/store/dials/{made.id}/taken-back"
    assert page in read(host, f"/store/{garage.store.id}/dials").text
    assert "Now -8 °C" in words_of(read(host, page))

    told = told_next(host, send(host, page, opened(host, page, why="I read 8 as -8")))
    garage.work()
    again = send(host, page, opened(host, page, why="twice"))

    assert "I read 8 as -8" in told
    assert "by Anna Quist" in told
    assert f"{page}" not in read(host, f"/store/{garage.store.id}/dials").text
    assert "It froze" not in words_of(read(host, "/my-fridge"))
    assert "taken back with its readings" in words_of(read(host, "/my-fridge"))
    assert again.status_code == 409


def test_a_reason_is_asked_for(garage, host):
    made = garage.dial(now="-8")
    page = f"/store/dials/{made.id}/taken-back"

    assert send(host, page, opened(host, page, why="")).status_code == 422


def test_looks_due_of_all_stores_stand_in_one_list(garage, writer, steward):
    shed = writer.write_now(
        actions.add_store, garage.host, schemas.StoreCreate(name="Apple shed", host_id=garage.host.party_id)
    )
    (there,) = make_bundles(writer, garage.ground)
    put(writer, garage.ground.host, {"bundle_id": there, "store_id": shed.id, "done_at": ago(days=3)})

    page = read(steward, "/looks-due")

    assert "2 bundles wait for a look in 2 stores" in words_of(page)
    assert page.text.index("Apple shed") < page.text.index("Garage fridge")
    assert f"/store/look/{there}?due={shed.id}" in page.text


def test_the_weekly_letter_is_read_on_the_page(garage, database, writer, host):
    assert "The first is written" in words_of(read(host, "/my-fridge"))
    writer.write_now(lambda session: enqueue(session, "weekly", {"host": str(garage.host.party_id)}), None)
    Worker(database, writer, [actions.weekly_letters()]).run_due()

    page = words_of(read(host, "/my-fridge"))

    assert "Your week in the cold: 1 look due" in page
    assert "not mailed: no e-mail address is known" in page
    assert "Nothing was measured." in page


def test_mail_that_was_refused_or_waits_stands_on_the_stewards_page(garage, database, writer, host, steward):
    office = make_asker(writer, Role.ADMINISTRATOR)
    version = party_version(writer, garage.host.party_id)
    body = PartyUpdate(email="bram@otterlea.example")
    writer.write_now(member_actions.change_party, office, garage.host.party_id, body, version)
    with mail_server() as server:
        server.answers["RCPT"] = "550 no such mailbox"
        post = Post("127.0.0.1", server.port, "plain", "", "", "fridge@club.example")
        garage.dial(now="-8")
        Worker(database, writer, [member_actions.mailing(post)]).run_due()

    theirs = " ".join(words_of(read(steward, "/looks-due")).split())

    assert "A letter to Bram Oosterlaan was not mailed" in theirs
    assert "The mail server refuses the address: 550 no such mailbox" in theirs
    assert "It froze: see to the wood now" in words_of(read(host, "/my-fridge"))


def test_whom_was_told_stands_in_the_order_of_names(database, writer, clock, as_):
    """Letters are of one instant and their ids are chance: names alone give a page that stays as it is."""
    garage = Garage(database, writer, clock)
    names = ["Odhrán Feeney", "Bram de Wit", "bea Sorrel", "Zita Marsh", "Cass Thorne"]
    for name in names:
        make_asker(writer, Role.STEWARD, name=name)
    garage.dial(now="-8")

    page = words_of(read(as_(Role.ADMINISTRATOR), "/looks-due"))

    ranks = [page.index(name) for name in sorted(names, key=str.casefold)]
    assert ranks == sorted(ranks)


def test_who_does_not_look_after_people_sees_no_name_of_whom_was_told(garage, as_):
    garage.dial(now="-8")

    page = words_of(read(as_(Role.COLLECTOR), "/looks-due"))

    assert "Garage fridge" in page
    assert "Bram Oosterlaan" not in page


def test_words_of_the_mail_server_stand_on_the_stewards_page_alone(garage, database, writer, host, steward):
    version, email = party_version(writer, garage.host.party_id), "bram@otterlea.example"
    office = make_asker(writer, Role.ADMINISTRATOR)
    writer.write_now(
        member_actions.change_party, office, garage.host.party_id, PartyUpdate(email=email), version
    )
    with mail_server() as server:
        server.answers["RCPT"] = "550 no such mailbox"
        post = Post("127.0.0.1", server.port, "plain", "", "", "fridge@club.example")
        writer.write_now(
            lambda session: enqueue(session, "weekly", {"host": str(garage.host.party_id)}), None
        )
        Worker(database, writer, [actions.weekly_letters(), member_actions.mailing(post)]).run_due()

    mine = words_of(read(host, "/my-fridge"))

    assert "its mail failed" in mine
    assert "mailbox" not in mine
    assert "550 no such mailbox" in words_of(read(steward, "/looks-due"))


@pytest.mark.parametrize(
    "kind, words", [("keeping", "How wood keeps was not reckoned anew"), ("other", "Work in the background")]
)
def test_work_that_was_given_up_is_told_in_plain_words(database, writer, as_, kind, words):
    def fail(_task):
        raise NotWorthAnotherTry("KeyError: 'bram@otterlea.example'")

    writer.write_now(lambda session: enqueue(session, kind, {}), None)
    Worker(database, writer, [Kind(kind, fail)]).run_due()

    page = words_of(read(as_(Role.ADMINISTRATOR), "/looks-due"))

    assert words in page
    assert "given up after 1 try" in page
    assert "KeyError" not in page


def test_every_kind_of_work_has_words_for_its_failing(app):
    assert set(app.state.jobs.kinds) - {"mail"} == set(UNDONE_WORDS)

"""What a scan says of a tag that was printed ahead: to strangers, members and those who cut."""

from __future__ import annotations

import pytest

from service.lib.codes import group_code
from service.provenance.rules.offers import Act, Level
from service.tags import actions as tags
from service.tags import queries
from service.tags.rules.blanks import GivenUp
from service.tags.rules.words import TagKind, TagState
from service.tags.schemas import BlankBatchCreate, BlanksGivenUp, PublicAddressCreate, TagBinding
from tests.builders.provenance import Yard
from tests.infra.statements import Statements

SAYS = "This is a tag of this club, bound to nothing yet."


@pytest.fixture
def blank(yard: Yard) -> str:
    return _blanks(yard)[0]


def _blanks(yard: Yard) -> list[str]:
    write, chief = yard.writer.write_now, yard.cast.administrator
    proposed = write(tags.propose_address, chief, PublicAddressCreate(host="tags.marsh-end.example"))
    write(tags.confirm_address, chief, proposed.id)
    batch = write(tags.print_blanks, yard.cast.host, BlankBatchCreate(blanks=2))
    with yard.database.reading() as session:
        return queries.list_blanks_left(session, batch.id)


def test_a_blank_says_in_one_sentence_that_it_is_bound_to_nothing_yet(
    yard: Yard, blank: str, statements: Statements
) -> None:
    for who, level in (
        ("stranger", Level.STRANGER),
        ("member", Level.MEMBER),
        ("host", Level.VOLUNTEER),
    ):
        with statements.at_most(1):
            told = yard.scan(blank, who)

        assert (told.answer, told.state, told.kind, told.level) == (SAYS, TagState.BLANK, None, level)
        assert (told.thing_id, told.card, told.more) == (None, {}, {})


@pytest.mark.parametrize(
    ("who", "offers"),
    [
        ("member", []),
        ("host", [Act.TIE_TO_THING]),
        ("collector", [Act.TIE_TO_CUT, Act.TIE_TO_THING]),
        ("administrator", [Act.TIE_TO_CUT, Act.TIE_TO_THING]),
    ],
)
def test_whoever_cuts_is_offered_a_cut_first(yard: Yard, blank: str, who: str, offers: list[Act]) -> None:
    told = yard.scan(blank, who)

    assert [(offer.act, offer.allowed) for offer in told.offers] == [(act, True) for act in offers]


def test_a_tied_tag_answers_as_its_thing_at_once(yard: Yard, blank: str) -> None:
    (bundle,) = yard.cut(8)
    body = TagBinding(kind=TagKind.BUNDLE, thing_id=bundle.id, placement="wood")
    yard.writer.write_now(tags.bind_blank, yard.cast.host, blank, body)

    told = yard.scan(blank)

    assert told.state is TagState.BOUND
    assert told.answer == yard.scan(bundle.code).answer


@pytest.mark.parametrize("state", list(GivenUp))
def test_a_tag_that_was_given_up_says_so_and_offers_nothing(yard: Yard, state: GivenUp) -> None:
    spare, blank = _blanks(yard)
    body = BlanksGivenUp(codes=[group_code(blank)], state=state)
    yard.writer.write_now(tags.give_up_blanks, yard.cast.host, body)

    told = yard.scan(blank, "collector")

    assert state.value in told.answer
    assert told.offers == []
    assert yard.scan(spare).answer == SAYS

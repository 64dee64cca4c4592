"""Answers of rounds: every tree of a site in walking order, with what was seen of it this season."""

from __future__ import annotations

from datetime import date
from uuid import UUID

from pydantic import Field

from service.lib.schemas import Answer, Body
from service.trees.rules import CheckResult
from service.trees.schemas.trees import OpenStopRead, Picture, SiteRead, TreeSummary


class LookPicture(Body):
    """A picture that was sent before, for a look that has none yet."""

    picture: Picture


class SeasonLook(Answer):
    """The newest look of this season at a tree, in leaf or in fruit."""

    id: UUID
    result: CheckResult
    seen_on: date
    agent: str
    note: str
    picture: str | None


class TreeOnRound(TreeSummary):
    """A tree as somebody meets it on a round."""

    genus: str
    stops: list[OpenStopRead] = []
    leaf: SeasonLook | None = Field(
        default=None, description="The newest look in leaf of this season, one that says 'not seen' too."
    )
    fruit: SeasonLook | None = None


class SiteRound(Answer):
    """The trees that stand on a site, in walking order; `since` is when this season's looks begin to count."""

    site: SiteRead
    since: date
    trees: list[TreeOnRound]

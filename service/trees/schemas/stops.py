"""Bodies and answers of stops, and of trees to consider for one."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from pydantic import Field, model_validator

from service.lib.database import new_id
from service.lib.schemas import Answer, Body, Words
from service.trees.rules import StopReason, StopState
from service.trees.schemas.trees import Agent, AgentCode


class StopCreate(Body):
    """A new case: why the wood may not be used, and what is suspected or was found."""

    id: UUID = Field(default_factory=new_id)
    reason: StopReason
    state: StopState = StopState.SUSPECTED
    agent: Agent = ""
    agent_code: AgentCode = ""
    note: Words = ""

    @model_validator(mode="after")
    def _open(self) -> StopCreate:
        if self.state is StopState.CLEARED:
            raise ValueError("a stop begins as suspected or confirmed")
        return self


class StopStepCreate(Body):
    """What is said of a stop now: what was found, or why it may be lifted."""

    note: Words = ""
    agent: Agent | None = None
    agent_code: AgentCode | None = None


class StopStepRead(Answer):
    state: StopState
    note: str
    at: datetime
    by_party_id: UUID
    by_name: str
    for_party_id: UUID


class StoppedTreeRead(Answer):
    """A tree bound by a stop, now or once."""

    tree_id: UUID
    number: int
    page_name: str
    site_id: UUID
    site_name: str
    is_origin: bool
    placed_at: datetime
    lifted_at: datetime | None


class StopSummary(Answer):
    """A stop in a list."""

    id: UUID
    reason: StopReason
    state: StopState
    agent: str
    agent_code: str
    note: str
    opened_at: datetime
    cleared_at: datetime | None
    by_party_id: UUID
    version: int


class StopRead(StopSummary):
    """A stop with its steps and the trees it binds."""

    lifted_by: str = ""
    steps: list[StopStepRead] = []
    trees: list[StoppedTreeRead] = []


class StopCandidate(Answer):
    """A tree that a person should consider for the same stop, and why."""

    tree_id: UUID
    number: int
    page_name: str
    kind: str
    site_id: UUID
    site_name: str
    why: str = Field(description="host_on_site, same_kind_on_site or same_round")
    words: str
    felled_on: date | None = None
    open_stops: int = 0
    cut_at: datetime | None = None
    round_id: UUID | None = None


class PictureRead(Answer):
    """A picture as it is kept."""

    sha256: str
    width: int
    height: int
    size_bytes: int
    address: str

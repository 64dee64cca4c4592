"""Bodies and answers of passing wood on."""

from __future__ import annotations

from uuid import UUID

from pydantic import Field, model_validator

from service.bundles.rules import HandOverForm
from service.bundles.schemas import BundleRead, Deed, SplitCreate, Sticks
from service.lib.database import new_id
from service.lib.schemas import Answer

__all__ = ["HandOverCreate", "HandOverRead", "ReturnCreate", "SplitCreate", "SplitRead", "TableBackCreate"]


class HandOverCreate(Deed):
    """Sticks pass to a party: as a bundle with a code of its own, under a flag, or out to an open table."""

    bundle_id: UUID
    sticks: Sticks
    form: HandOverForm = HandOverForm.BUNDLE
    party_id: UUID | None = Field(default=None, description="the receiver; none for an open table")
    child_id: UUID = Field(default_factory=new_id)

    @model_validator(mode="after")
    def _receiver_where_there_is_one(self) -> HandOverCreate:
        if (self.party_id is None) != (self.form is HandOverForm.TABLE):
            raise ValueError("a receiver for a bundle or a flag; none for an open table")
        return self


class TableBackCreate(Deed):
    """Sticks counted back from an open table."""

    bundle_id: UUID
    sticks: Sticks


class ReturnCreate(Deed):
    """A handed-over bundle comes back to the club, whole."""

    bundle_id: UUID


class SplitRead(Answer):
    """The new bundle, which lies where its parent lies."""

    bundle: BundleRead
    parent_id: UUID


class HandOverRead(Answer):
    """What was handed over: the receiver's bundle (or the table's), and what is left of the parent."""

    id: UUID
    form: HandOverForm
    party_id: UUID | None
    bundle: BundleRead
    warnings: list[str] = []

"""Words of collecting: a cut or a receipt, dormant wood or summer budwood."""

from __future__ import annotations

from enum import StrEnum


class CollectionKind(StrEnum):
    CUT = "cut"
    RECEIPT = "receipt"


class Wood(StrEnum):
    DORMANT = "dormant"
    SUMMER = "summer"

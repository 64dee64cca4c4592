"""What the catalogue knows by itself: names, spellings, stages, rights, joins, and the reference files' grammar."""

from service.catalogue.rules.agents import AgentNames, meant_agents, rank_agents
from service.catalogue.rules.facts import CultivarFacts, TaxonFacts
from service.catalogue.rules.joins import (
    JoinAdvice,
    JoinRow,
    StockFacts,
    Verdict,
    WoodFacts,
    advise,
    check_can_offer_join,
)
from service.catalogue.rules.names import (
    EpithetWarning,
    FormattedName,
    check_epithet,
    clean_epithet,
    format_botanical_name,
    format_cultivar_name,
    page_name,
)
from service.catalogue.rules.reference import ReferenceFileWrong, ReferenceSet, read_reference
from service.catalogue.rules.rights import (
    ProtectedVariety,
    Protection,
    Rights,
    can_share_rights,
    check_protection,
    check_share_rights,
    share_warning,
)
from service.catalogue.rules.spellings import NameKind, fold_name, score_name, trigrams_of
from service.catalogue.rules.stages import (
    STAGE_CODES,
    NoSuchStage,
    WoodUse,
    can_cut_for_store,
    check_stage,
    wood_use,
)
from service.catalogue.rules.words import (
    DEFAULT_VERDICT_WEEKS,
    AlreadySpelled,
    EppoMark,
    Mark,
    NotYourWord,
    check_may_name,
    verdict_weeks,
)

__all__ = [
    "DEFAULT_VERDICT_WEEKS",
    "STAGE_CODES",
    "AgentNames",
    "AlreadySpelled",
    "CultivarFacts",
    "EpithetWarning",
    "EppoMark",
    "FormattedName",
    "JoinAdvice",
    "JoinRow",
    "Mark",
    "NameKind",
    "NoSuchStage",
    "NotYourWord",
    "ProtectedVariety",
    "Protection",
    "ReferenceFileWrong",
    "ReferenceSet",
    "Rights",
    "StockFacts",
    "TaxonFacts",
    "Verdict",
    "WoodFacts",
    "WoodUse",
    "advise",
    "can_cut_for_store",
    "can_share_rights",
    "check_can_offer_join",
    "check_epithet",
    "check_may_name",
    "check_protection",
    "check_share_rights",
    "check_stage",
    "clean_epithet",
    "fold_name",
    "format_botanical_name",
    "format_cultivar_name",
    "meant_agents",
    "page_name",
    "rank_agents",
    "read_reference",
    "score_name",
    "share_warning",
    "trigrams_of",
    "verdict_weeks",
    "wood_use",
]  # fmt: skip

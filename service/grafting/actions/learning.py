"""Learning from takes: asked for where takes or grafts change, done by a job, always anew from all takes there are."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from sqlmodel import Session

from service.grafting.queries.learning import AllTakes, all_takes, any_verdict
from service.lib.jobs import AT_ONE_GO, Ending, Kind, Task, Wanted, enqueue
from service.storage.actions.learned import record_learned
from service.storage.queries.learned import learned_ageing, newest_version
from service.storage.schemas.learned import AgeingRead, GroupLearned, MethodLearned

LEARNING = "learning"
# A card of looks is typed in one after the other: what they say is learned together. Judgement.
FOR_COMPANY = timedelta(minutes=10)
LOOKED_AT_EACH = timedelta(days=1)


def ask_to_learn(session: Session) -> None:
    """Takes or grafts changed: what they say is learned anew. One statement."""
    enqueue(session, LEARNING, {}, once=LEARNING, wait=FOR_COMPANY)


def learning_wanted(session: Session, now: datetime) -> Iterable[Wanted]:
    """Each day, once anything was judged: readings come late, names are put right, and the day comes from which a graft that was
    found dead before it counts. Two statements.
    """
    if not any_verdict(session):
        return []
    return [Wanted(LEARNING, {}, LEARNING, LOOKED_AT_EACH if newest_version(session) else AT_ONE_GO)]


def learning() -> Kind:
    """The kind of job that learns. Where nothing that counts has changed, the version that stands goes on standing."""

    def do(task: Task) -> Ending | None:
        from service.science.parameters import numbers_digest

        with task.database.reading() as session:
            newest = learned_ageing(session)
            takes = all_takes(session, task.now)
        known = (newest.digest, newest.numbers_digest) if newest else None
        if known == (takes.digest, numbers_digest()) or (newest is None and takes.are_none):
            return None
        found = learn_from(takes, (newest.version if newest else 0) + 1, task.now)
        return lambda session: record_learned(session, found)

    return Kind(LEARNING, do, lease=timedelta(minutes=30))


def learn_from(takes: AllTakes, version: int, at: datetime) -> AgeingRead:
    """What these takes say, as the version of that number."""
    from service.science.groups import GROUPS
    from service.science.learning import kept_days, learn_groups
    from service.science.parameters import numbers_digest

    start, groups = learn_groups(takes.by_group)
    told = []
    for name, each in groups.items():
        own, after = takes.by_group[name], each.after
        methods = [
            MethodLearned(
                method=method, base=base, grafts=sum(one.grafted for one in own if one.method == method),
                taken=sum(one.taken for one in own if one.method == method),
            )
            for method, base in after.base.items()
        ]  # fmt: skip
        told.append(
            GroupLearned(
                species_group=name, grafts=after.grafts, taken=each.taken, before_mu=each.before.mu, before_sigma=each.before.sigma,
                mu=after.ageing.mu, sigma=after.ageing.sigma, median=after.median, low=after.low, high=after.high,
                is_told_apart=after.is_told_apart,
                kept_days_before=kept_days(GROUPS[name], each.before), kept_days=kept_days(GROUPS[name], after.ageing), methods=methods,
            )
        )  # fmt: skip
    return AgeingRead(
        version=version, made_at=at, digest=takes.digest, numbers_digest=numbers_digest(),
        grafts=sum(each.grafts for each in told), taken=sum(each.taken for each in told), start_mu=start.mu, left_out=takes.left_out,
        groups=told, came_true=takes.came_true,
    )  # fmt: skip

"""What riders report of roads: taken at once where it adds caution, ended only at a second yes."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta

from replanner.clock import day_over
from replanner.dialogue import replies, wishes
from replanner.dialogue.by_plan import Stand, stand, today
from replanner.dialogue.changing import Outcome, change, say
from replanner.dialogue.demands import reopening
from replanner.dialogue.intent_types import Close, Reopen
from replanner.dialogue.road_change import from_here, nowhere, with_tail
from replanner.dialogue.road_intent import RoadWord
from replanner.dialogue.state import State
from replanner.dialogue.topics import Topic
from replanner.trip.edits import Demands
from replanner.trip.model import Exposure, LegId
from replanner.trip.reported import report_of
from replanner.trip.underway import Report, ReportKind

_SURFACE: Mapping[Topic, ReportKind] = {
    Topic.GRAVEL: ReportKind.GRAVEL,
    Topic.MUD: ReportKind.MUD,
    Topic.SLIPPERY: ReportKind.SLIPPERY,
}
_SEEN: Mapping[Topic, tuple[ReportKind, int | None]] = {
    Topic.WIND_SEEN: (ReportKind.WIND, 2),
    Topic.BLOWN: (ReportKind.WIND, 3),
    Topic.WET_SEEN: (ReportKind.WET, None),
    Topic.FOG_SEEN: (ReportKind.FOG, None),
    Topic.DRY_SEEN: (ReportKind.DRY, None),
}
CAUTION, NO_GO = 2, 4


def close(state: State, wish: Close, sent: datetime) -> Outcome:
    """Note legs as closed: by a report on the road or where a day is told; else as a wish."""
    here = stand(state, sent)
    if here is None and wish.until is None:
        return wishes.close(state, wish)
    words, names = state.words, replies.named(wish.legs, state)
    told = _reports(state, wish.legs, ReportKind.CLOSED, sent, None)
    if wish.until is not None:
        over = day_over(wish.until, state.book.tz)
        told = frozenset(replace(one, until=max(one.until, over)) for one in told)
    shut = _closures(state)
    if all(any(one.leg == new.leg and one.until >= new.until for one in shut) for new in told):
        return with_tail(state, sent, words.say("{legs}: reported closed already.", legs=names))
    echo = words.say(
        "Closed until {when}: {legs}. Seen at a sign, or told?",
        when=_closing_over(told, state, sent),
        legs=names,
    )
    wanted = replace(
        state.demands,
        reports=state.demands.reports | told,
        forced=state.demands.forced - set(wish.legs),
    )
    return change(state, wanted, echo) if here is None else from_here(state, here, wanted, echo)


def _closures(state: State) -> list[Report]:
    return [one for one in state.demands.reports if one.kind is ReportKind.CLOSED]


def _closing_over(shut: Iterable[Report], state: State, sent: datetime) -> str:
    """Return when the last of these closures ends, as riders say it."""
    last = max(one.until for one in shut).astimezone(state.book.tz).date() - timedelta(days=1)
    if last <= sent.astimezone(state.book.tz).date():
        return state.words.say("tonight")
    return state.words.say("{date} is over", date=replies.date_of(last, state))


def reopen(state: State, wish: Reopen, sent: datetime) -> Outcome:
    """Take closures back, those reported on the road as well, after a second yes."""
    shut = [leg for leg in wish.legs if leg in _reported(state, ReportKind.CLOSED, sent)]
    if not shut:
        return wishes.reopen(state, wish)
    legs = tuple(leg for leg in wish.legs if leg in {*shut, *state.demands.closed})
    ended = frozenset(
        one for one in state.demands.reports if one.leg in legs and one.kind is ReportKind.CLOSED
    )
    wanted = replace(reopening(state.demands, legs), reports=state.demands.reports - ended)
    return _ended(state, wanted, legs, sent)


def swept(state: State, word: RoadWord, sent: datetime) -> Outcome:
    """End reports of what lies on a road, after a second yes."""
    words = state.words
    if word.trial:
        return known(state, word.legs, tuple(_SURFACE.values()), sent)
    lying = [one for one in state.demands.reports if one.kind in _SURFACE.values()]
    lying = [one for one in lying if one.until > sent]
    legs = word.legs or tuple(dict.fromkeys(one.leg for one in sorted(lying, key=_by_leg)))
    ended = frozenset(one for one in lying if one.leg in legs)
    if not ended:
        line = "Nobody has reported anything lying on the road here; what the tour file says stays."
        return with_tail(state, sent, words.say(line))
    if not word.legs and len(legs) > 1:
        names = replies.named(legs, state)
        return with_tail(state, sent, words.say("Which one: {legs}?", legs=names))
    wanted = replace(state.demands, reports=state.demands.reports - ended)
    return _ended(state, wanted, legs, sent)


def _ended(state: State, wanted: Demands, legs: tuple[LegId, ...], sent: datetime) -> Outcome:
    names, here = replies.named(legs, state), stand(state, sent)
    echo = state.words.say("Clear again: {legs}.", legs=names)
    return change(state, wanted, echo) if here is None else from_here(state, here, wanted, echo)


def surface(state: State, word: RoadWord, sent: datetime) -> Outcome:
    """Keep what lies on a road: gravel for a week, mud and ice for a day."""
    kind, here = _SURFACE[word.topic], stand(state, sent)
    legs = word.legs or ((here.leg,) if here and here.leg else ())
    if word.trial:
        return known(state, legs, (kind,), sent)
    if not legs:
        line = state.words.say("On which road? Say: {kind} on ...", kind=state.words.say(kind))
        return with_tail(state, sent, line)
    # what is not offered to a pillion or road tyres is no-go to all who ride with them
    level = NO_GO if state.book.road.delicate and kind is ReportKind.GRAVEL else None
    told = _reports(state, legs, kind, sent, level)
    wanted = replace(state.demands, reports=state.demands.reports | told)
    return _taken(state, here, wanted, told, sent)


def seen(state: State, word: RoadWord, sent: datetime) -> Outcome:
    """Take what is seen on the road for two hours: there, and a wind on the next open leg too."""
    kind, level = _SEEN[word.topic]
    here = stand(state, sent)
    if here is None:
        return nowhere(state, sent)
    legs = word.legs or ((here.leg,) if here.leg else ())
    if word.trial:
        return known(state, legs, (kind,), sent)
    if kind is ReportKind.WIND:
        legs = tuple(dict.fromkeys((*legs, *_next_exposed(state, here))))
    if not legs:
        line = state.words.say("On which road? Say: {kind} on ...", kind=state.words.say(kind))
        return with_tail(state, sent, line)
    told = _reports(state, legs, kind, sent, level)
    wanted = replace(state.demands, reports=state.demands.reports | told)
    return _taken(state, here, wanted, told, sent)


def _next_exposed(state: State, here: Stand) -> tuple[LegId, ...]:
    """Return the next leg that lies open, of those still ahead."""
    for leg in here.ahead:
        road = state.book.road.leg(leg.id)
        if road is not None and road.exposure >= Exposure.OPEN:
            return (leg.id,)
    return ()


def _taken(
    state: State, here: Stand | None, wanted: Demands, told: frozenset[Report], sent: datetime
) -> Outcome:
    words = state.words
    one = min(told, key=_by_leg)
    if one.kind is ReportKind.WIND and one.level > CAUTION:
        blown = words.say("Blown about: slow, next stop or turn back.")
    else:
        blown = ""
    echo = words.say(
        "Noted until {time}: {kind} on {legs}.",
        time=replies.moment(one.until, state, sent),
        kind=words.say(one.kind),
        legs=replies.named(sorted(each.leg for each in told), state),
    )
    echo = f"{blown} {echo}".strip()
    return change(state, wanted, echo) if here is None else from_here(state, here, wanted, echo)


def known(
    state: State, legs: tuple[LegId, ...], kinds: tuple[ReportKind, ...], sent: datetime
) -> Outcome:
    """Tell what riders have reported, and that nothing more is known."""
    words = state.words
    told = [
        words.say(
            "{leg}: {kind}, reported {time}.",
            leg=replies.named((one.leg,), state),
            kind=words.say(one.kind),
            time=replies.moment(one.since, state, sent),
        )
        for one in sorted(state.demands.reports, key=_by_leg)
        if one.kind in kinds and one.until > sent and (not legs or one.leg in legs)
    ]
    if not told:
        told = [words.say("Nobody has reported that here, I know no more.")]
    line = words.say("Check the sign or the authority.")
    return with_tail(state, sent, " ".join((*told, line)))


def is_open(state: State, legs: tuple[LegId, ...], sent: datetime) -> Outcome:
    """Tell what is known of closures, which is only what was reported."""
    shut = _reported(state, ReportKind.CLOSED, sent)
    if (set(legs) & shut) if legs else shut:
        return known(state, legs, (ReportKind.CLOSED,), sent)
    line = replies.closures(legs, state)
    return with_tail(state, sent, line) if today(state, sent) else say(state, line)


def how_known(state: State, word: RoadWord, sent: datetime) -> Outcome:
    """Take up whether the closure reported last was seen or told: it stays either way."""
    words = state.words
    shut = [one for one in _closures(state) if one.until > sent]
    if not shut:
        return say(state, words.say("Nothing is reported closed here."))
    last = max(one.since for one in shut)
    shut = [one for one in shut if one.since == last]
    names = replies.named(sorted(one.leg for one in shut), state)
    line = (
        "Seen: {legs} stays closed until {when}."
        if word.topic is Topic.SIGN_SEEN
        else "Only told: {legs} stays closed until {when}. If the sign says otherwise: ... is open"
    )
    when = _closing_over(shut, state, sent)
    return with_tail(state, sent, words.say(line, legs=names, when=when))


def _reported(state: State, kind: ReportKind, sent: datetime) -> frozenset[LegId]:
    return frozenset(
        one.leg for one in state.demands.reports if one.kind is kind and one.until > sent
    )


def _reports(
    state: State, legs: tuple[LegId, ...], kind: ReportKind, sent: datetime, level: int | None
) -> frozenset[Report]:
    zone = state.book.tz
    return frozenset(report_of(leg, kind, sent, zone, level=level) for leg in legs)


def _by_leg(report: Report) -> tuple[str, str, datetime]:
    return report.leg, report.kind, report.until

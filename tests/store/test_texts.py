"""What is kept as text comes back exactly."""

import json
from dataclasses import fields, is_dataclass, replace
from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from replanner.dialogue.events import Memory
from replanner.dialogue.intent_types import Option
from replanner.dialogue.kept import KeptTalk
from replanner.dialogue.state import Choice, Confirm, Shown, Then, Turn
from replanner.dialogue.topics import Topic
from replanner.geodesy import Point
from replanner.store.texts import BRIEFINGS, MEMORIES, TALKS
from replanner.trip.edits import Demands
from replanner.trip.model import Way
from replanner.trip.underway import OnLeg, Report, ReportKind, Underway
from tests.advice.briefings import ALL
from tests.store.things import PLAN


def types_of(thing: Any) -> Any:
    """Return the thing as nested types and values, so that 1 and 1.0, list and tuple differ."""
    if is_dataclass(thing):
        return (type(thing), [types_of(getattr(thing, f.name)) for f in fields(thing)])
    if isinstance(thing, tuple):
        return (tuple, [types_of(part) for part in thing])
    if isinstance(thing, dict):
        return (dict, [(key, types_of(value)) for key, value in sorted(thing.items())])
    if isinstance(thing, datetime):
        return (datetime, thing.isoformat(), thing.utcoffset())
    return (type(thing), repr(thing))


@pytest.mark.parametrize("name", sorted(ALL))
def test_every_kind_of_plan_comes_back_exactly(name: str) -> None:
    briefing = ALL[name]
    back = BRIEFINGS.read(BRIEFINGS.write(briefing), where="here")
    assert back == briefing
    assert types_of(back) == types_of(briefing)


def test_a_plan_kept_before_days_were_weighed_for_clashes_reads_as_having_none() -> None:
    kept = json.loads(BRIEFINGS.write(PLAN))
    del kept["over_days"]
    assert BRIEFINGS.read(json.dumps(kept), where="here") == PLAN
    assert PLAN.over_days is None


def test_an_instant_keeps_its_offset_and_an_infinity_stays_one() -> None:
    briefing = replace(
        PLAN,
        made_at=datetime.fromisoformat("2027-04-04T02:30:00+13:00"),
        value_minutes=float("inf"),
    )
    back = BRIEFINGS.read(BRIEFINGS.write(briefing), where="here")
    assert back.made_at.isoformat() == "2027-04-04T02:30:00+13:00"
    assert back.value_minutes == float("inf")


_TEXT = st.text(max_size=8)
_LEGS = st.frozensets(st.text(min_size=1, max_size=8), max_size=4)
_INSTANTS = st.datetimes(timezones=st.just(UTC))
_FLOATS = st.floats(allow_nan=False)
_UNDERWAY = st.builds(
    Underway,
    at=_INSTANTS,
    ready=_INSTANTS,
    ridden=_LEGS,
    on_leg=st.none() | st.builds(OnLeg, leg=_TEXT, way=st.sampled_from(Way), fraction=_FLOATS),
    place=st.none() | _TEXT,
    point=st.none() | st.builds(Point, _FLOATS, _FLOATS, _FLOATS),
    turning_back=st.booleans(),
    live=st.booleans(),
)
_REPORT = st.builds(
    Report,
    leg=_TEXT,
    kind=st.sampled_from(ReportKind),
    level=st.integers(0, 4),
    since=_INSTANTS,
    until=_INSTANTS,
)
_DEMANDS = st.builds(
    Demands,
    left_out=_LEGS,
    forced=_LEGS,
    closed=_LEGS,
    departure=st.none() | _INSTANTS,
    own_order=st.booleans(),
    moved=st.frozensets(st.tuples(_TEXT, st.dates()), max_size=3),
    before=st.frozensets(st.tuples(_TEXT, _TEXT), max_size=3),
    underway=st.none() | _UNDERWAY,
    reports=st.frozensets(_REPORT, max_size=3),
    nights=st.frozensets(st.tuples(st.dates(), _TEXT), max_size=3),
    stricter=st.integers(0, 2),
    homeward=st.booleans(),
)


@given(
    st.builds(
        Memory,
        demands=_DEMANDS,
        own_caution_shown=st.booleans(),
        cautions_shown=st.booleans(),
        alerted=st.frozensets(st.tuples(_TEXT, _TEXT), max_size=3),
        closed_down=st.booleans(),
    )
)
def test_any_memory_comes_back_exactly(memory: Memory) -> None:
    assert MEMORIES.read(MEMORIES.write(memory), where="here") == memory


_SHOWN = st.none() | st.builds(
    Shown,
    briefing=st.sampled_from(list(ALL.values())),
    demands=_DEMANDS,
    wishes=st.none() | _DEMANDS,
)
_CHOICE = st.builds(
    Choice,
    about=st.sampled_from(Topic),
    options=st.lists(st.builds(Option, label=_TEXT, says=_TEXT), max_size=3).map(tuple),
)


# Large things: each example is a whole conversation.
@settings(max_examples=10, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.builds(
        KeptTalk,
        day=st.dates(),
        demands=_DEMANDS,
        shown=_SHOWN,
        trial=_SHOWN,
        history=st.lists(
            st.builds(Turn, demands=_DEMANDS, shown=_SHOWN, accepted=_SHOWN, what=_TEXT), max_size=2
        ).map(tuple),
        question=st.none()
        | _CHOICE
        | st.builds(Confirm, then=st.sampled_from(Then), demands=_DEMANDS, echo=_TEXT),
        own_caution_shown=st.booleans(),
        cautions_shown=st.booleans(),
        serial=st.integers(0, 10_000),
    )
)
def test_any_talk_comes_back_exactly(talk: KeptTalk) -> None:
    assert TALKS.read(TALKS.write(talk), where="here") == talk

"""What riders type and what it must mean. The phrasings are invented; the replies of the trade
they are modelled on are common practice, no source."""

from datetime import date, time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replanner.dialogue.intent_types import (
    Close,
    Doubtful,
    Intent,
    IsOpen,
    KeepOrder,
    Late,
    LeaveAt,
    LogDay,
    NotUnderstood,
    Plain,
    PlanDay,
    Reopen,
    Ride,
    Skip,
    SwapLegs,
    ToDay,
    UnknownDay,
    UnknownName,
    WeatherOn,
    Which,
    WhyLeg,
)
from replanner.dialogue.intents import understand
from replanner.dialogue.matching import matches, phrases, without_noise
from replanner.dialogue.phrases import PHRASES
from replanner.dialogue.road_intent import ROAD_TOPICS, RoadWord
from replanner.dialogue.topics import EXAMPLES, Topic
from tests.dialogue.evening import hearing
from tests.dialogue.slips import slips_of

SAT, SUN, LAST = date(2027, 4, 3), date(2027, 4, 4), date(2027, 4, 5)

SAID: dict[str, Intent] = {
    "ok": Plain(Topic.OK),
    "OK!": Plain(Topic.OK),
    "ok then, thanks": Plain(Topic.OK),
    "okay": Plain(Topic.OK),
    "go": Plain(Topic.OK),
    "sounds good": Plain(Topic.OK),
    "\N{THUMBS UP SIGN}": Plain(Topic.OK),
    "yes": Plain(Topic.YES),
    "yep": Plain(Topic.YES),
    "accept": Plain(Topic.ACCEPT),
    "take plan b": Plain(Topic.ACCEPT),
    "no": Plain(Topic.NO),
    "keep": KeepOrder(),
    "keep my order": KeepOrder(),
    "leave it": KeepOrder(),
    "no, keep it": KeepOrder(),
    "keep it as it was": KeepOrder(),
    "why?": Plain(Topic.WHY),
    "how come": Plain(Topic.WHY),
    "why hask saddle": WhyLeg("hask"),
    "why is the Brindle loop left out?": WhyLeg("brindle"),
    "plan b": Plain(Topic.PLAN_B),
    "where's plan B": Plain(Topic.PLAN_B),
    "skip hask saddle": Skip(("hask",)),
    "Skip the Quern loop please": Skip(("quern",)),
    "drop quern and the salt causeway": Skip(("quern", "causeway")),
    "skip hask saddle, quern": Skip(("hask", "quern")),
    "leave out the causeway": Skip(("causeway",)),
    "leave the gannet spur out": Skip(("gannet",)),
    "skip tarn forde": Skip(("tar",)),
    "skip the ferry": Skip(("kelp",)),
    "ok skip quern": Skip(("quern",)),
    "can we skip quern": Skip(("quern",), trial=True),
    "what if we skip quern": Skip(("quern",), trial=True),
    "ride brindle loop all the same": Ride(("brindle",)),
    "ride the causeway anyway": Ride(("causeway",)),
    "I still want the gannet spur": Ride(("gannet",)),
    "don't skip the causeway": Ride(("causeway",)),
    "swap quern with saturday": ToDay("quern", SAT),
    "swap quern with sat": ToDay("quern", SAT),
    "move the quern loop to sunday": ToDay("quern", SUN),
    "swap quern with day 2": ToDay("quern", SAT),
    "swap quern with the 3rd": ToDay("quern", SAT),
    "swap tomorrow with saturday": ToDay(None, SAT),
    "swap quern and hask saddle": SwapLegs("quern", "hask"),
    "hask saddle before quern": SwapLegs("hask", "quern", in_order=True),
    "leave at 7": LeaveAt(time(7)),
    "leave at 8:30": LeaveAt(time(8, 30)),
    "leave at 7.30": LeaveAt(time(7, 30)),
    "leave at 0730": LeaveAt(time(7, 30)),
    "leave at half past 7": LeaveAt(time(7, 30)),
    "start at quarter to eight": LeaveAt(time(7, 45)),
    "depart at 7am": LeaveAt(time(7)),
    "leave at 2pm": LeaveAt(time(14)),
    "leave at noon": LeaveAt(time(12)),
    "what if I leave at 7": LeaveAt(time(7), trial=True),
    "not sure": Plain(Topic.NEVER_MIND),
    "how about leaving at 9": LeaveAt(time(9), trial=True),
    "undo": Plain(Topic.UNDO),
    "oops": Plain(Topic.UNDO),
    "start over": Plain(Topic.START_OVER),
    "read it again": Plain(Topic.READ),
    "pardon?": Plain(Topic.READ),
    "when do I leave": Plain(Topic.READ),
    "say it": Plain(Topic.SPEAK),
    "read it aloud": Plain(Topic.SPEAK),
    "cautions": Plain(Topic.CAUTIONS),
    "weather": Plain(Topic.FORECAST),
    "how old is the forecast": Plain(Topic.FORECAST),
    "what's the weather on hask saddle at 3": WeatherOn("hask"),
    "how sure": Plain(Topic.HOW_SURE),
    "are you sure?": Plain(Topic.HOW_SURE),
    "closed causeway": Close(("causeway",)),
    "road closed at hask saddle": Close(("hask",)),
    "the causeway is closed": Close(("causeway",)),
    "the causeway is open": Reopen(("causeway",)),
    "is the causeway open?": IsOpen(("causeway",)),
    "causeway closed?": IsOpen(("causeway",)),
    "any closures": IsOpen(()),
    "how long have I got": Plain(Topic.SPARE),
    "turn back times": Plain(Topic.TURN_BACK),
    "do the short loop tonight": Plain(Topic.TONIGHT),
    "running 40 min late": Late(40.0),
    "we're stopping for lunch, 1 hr": RoadWord(topic=Topic.STOPPING, minutes=60.0),
    "late": Late(None),
    "help": Plain(Topic.HELP),
    "commands": Plain(Topic.COMMANDS),
    "sos": Plain(Topic.EMERGENCY),
    "help me": Plain(Topic.EMERGENCY),
    "we crashed at the junction": Plain(Topic.EMERGENCY),
    "someone is hurt": Plain(Topic.EMERGENCY),
    "call an ambulance": Plain(Topic.EMERGENCY),
    "thunder": Plain(Topic.THUNDER),
    "knackered": Plain(Topic.TIRED),
    "pillion's freezing": Plain(Topic.COLD),
    "windy here": Plain(Topic.WIND_SEEN),
    "ferry's off": Plain(Topic.BOAT),
    "missed the boat": Plain(Topic.BOAT_MISSED),
    "tide board says 11:30": RoadWord(topic=Topic.TIDE_BOARD, wall=time(11, 30)),
    "puncture": Plain(Topic.BREAKDOWN),
    "fuel at 60 miles": RoadWord(topic=Topic.FUEL, km=96.56064, said="60 miles"),
    "deep gravel on quern": RoadWord(topic=Topic.GRAVEL, legs=("quern",)),
    "gravel's been swept": Plain(Topic.SWEPT),
    "can we fly at the point": RoadWord(topic=Topic.DRONE, trial=True),
    "my limit is 35 mph": RoadWord(
        topic=Topic.LIMIT, said="35 mph", metres_per_second=35 * 0.44704
    ),
    "done: quern, causeway. missed gannet (fog)": LogDay(
        ("quern", "causeway"), (("gannet", "fog"),)
    ),
    "missed gannet because of fog": LogDay((), (("gannet", "fog"),)),
    "ridden quern and hask saddle; missed wrack bay": LogDay(("quern", "hask"), (("wrack", ""),)),
    "home safe": Plain(Topic.HOME_SAFE),
    "mute until morning": Plain(Topic.QUIET_NIGHT),
    "speak again": Plain(Topic.SPEAK_AGAIN),
    "picture": Plain(Topic.PICTURE),
    "send me the gpx": Plain(Topic.TRACK),
    "export my data": Plain(Topic.EXPORT),
    "new forecast": Plain(Topic.LOOK_AGAIN),
    "has anything changed": Plain(Topic.LOOK_AGAIN),
    "plan": PlanDay(None),
    "plan today": UnknownDay("today"),
    "plan tomorrow": PlanDay(date(2027, 4, 2)),
    "plan for saturday": PlanDay(SAT),
    "shut up": Plain(Topic.QUIET),
    "stay another night": Plain(Topic.STAY),
    "reverse it": Plain(Topic.REVERSE),
    "somebody wants to go home": Plain(Topic.GROUP),
    "erase my data": Plain(Topic.ERASE),
    "never mind": Plain(Topic.NEVER_MIND),
    "good night": Plain(Topic.FAREWELL),
    "drop the causeway tomorrow": Skip(("causeway",)),
    "let's not do the causeway": Skip(("causeway",)),
    "can we do the causeway instead": Ride(("causeway",), trial=True),
    "we'd rather leave at nine": LeaveAt(time(9)),
    "fine by me": Plain(Topic.OK),
    "nah leave it": KeepOrder(),
    "hask saddle is closed due to snow": Close(("hask",)),
    "hask saddle closed until sunday": Close(("hask",), SUN),
    "close hask saddle til sunday": Close(("hask",), SUN),
    "hask saddle is closed till tomorrow": Close(("hask",), date(2027, 4, 2)),
    "road closed at hask saddle until further notice": Close(("hask",), LAST),
    "hask saddle is shut for the season": Close(("hask",), LAST),
    "hask saddle closed until 14 may": Close(("hask",), LAST),  # beyond the tour
    "hask saddle closed until 5pm": Close(("hask",)),
    "what's the wind like on hask saddle": WeatherOn("hask"),
    "is it safe?": Plain(Topic.CAUTIONS),
    "the bike won't start": Plain(Topic.BREAKDOWN),
    "ok?": Doubtful(),
    "no?": Doubtful(),
    "undo?": Doubtful(),
    "swap quern with tuesday": UnknownDay("tuesday"),
    "skip loch ness": UnknownName("loch ness", ("brindle", "brindle-low")),
    "skip hask top": UnknownName("hask top", ("hask", "valley")),
}

CHANGES = (Skip, Ride, Close, Reopen, ToDay, SwapLegs, LeaveAt, KeepOrder)
AGREEMENTS = {Topic.YES, Topic.OK, Topic.ACCEPT, Topic.NO, Topic.UNDO, Topic.START_OVER}
# Asked or answered on the road without a change, or with the same change whatever figure is said.
ANSWERED = {
    Topic.FUEL,
    Topic.FUEL_AHEAD,
    Topic.DRONE,
    Topic.GROUP,
    Topic.NEXT_BOAT,
    Topic.SIGN_SEEN,
    Topic.HEARSAY,
    Topic.LIMIT,
}


def changes_the_plan(intent: Intent) -> bool:
    if isinstance(intent, Plain):
        return intent.topic in AGREEMENTS | ROAD_TOPICS - ANSWERED - {Topic.STOPPING}
    if isinstance(intent, RoadWord):
        return not intent.trial and intent.topic not in ANSWERED
    if isinstance(intent, Late):
        return intent.minutes is not None
    return isinstance(intent, CHANGES) and not getattr(intent, "trial", False)


@pytest.mark.parametrize(("line", "meant"), SAID.items(), ids=SAID.keys())
def test_a_line_means_what_a_rider_means_by_it(line: str, meant: Intent) -> None:
    assert understand(line, hearing()) == meant


def test_at_least_sixty_phrasings_are_tried() -> None:
    assert len(SAID) >= 60


@pytest.mark.parametrize("line", [line for line in SAID if line.isascii()])
def test_no_slip_of_the_finger_becomes_another_change_of_plan(line: str) -> None:
    # Every neighbouring key, missed, doubled and swapped letter of the line (QWERTY layout).
    meant = SAID[line]
    wrong = {
        slipped: heard
        for slipped in slips_of(line)
        if changes_the_plan(heard := understand(slipped, hearing())) and not _same(heard, meant)
    }
    assert not wrong


def _same(heard: Intent, meant: Intent) -> bool:
    """A closure is noted whatever its last day is read as: the answer tells that day."""
    if isinstance(heard, Close) and isinstance(meant, Close):
        return heard.legs == meant.legs
    return heard == meant


def test_most_slips_of_the_finger_are_still_understood() -> None:
    tried = understood = 0
    for line, meant in SAID.items():
        if len(line) < 8 or isinstance(meant, UnknownDay | UnknownName | NotUnderstood):
            continue
        slips = slips_of(line)[::7]
        tried += len(slips)
        understood += sum(understand(slipped, hearing()) == meant for slipped in slips)
    assert understood / tried > 0.75


@pytest.mark.parametrize(
    "line",
    [
        "skip everything but hask",
        "don't keep my order",
        "not ok",
        "is it ok to leave at 7",
        "nobody said skip quern",
        "I would never skip quern",
        "if only we could leave at 7",
        "ok but not the causeway and not at 7",
        "leave at 25",
        "leave at 8:75",
        "swap quern",
        "maybe",
        "asdf",
        "",
        "   ",
        "...",
        "1",
        "the",
        "skip quern unless it is dry",
    ],
)
def test_what_is_not_said_plainly_changes_nothing(line: str) -> None:
    assert not changes_the_plan(understand(line, hearing()))


def test_two_names_that_fit_are_asked_about() -> None:
    heard = understand("closed hask", hearing())
    assert isinstance(heard, Which)
    assert [option.label for option in heard.options] == ["Hask Saddle", "Hask valley road"]
    assert [understand(option.says, hearing()) for option in heard.options] == [
        Close(("hask",)),
        Close(("valley",)),
    ]


def test_a_name_that_fits_two_legs_means_the_one_of_the_plan_where_only_that_can_be_skipped() -> (
    None
):
    assert understand("skip hask", hearing()) == Skip(("hask",))


def test_a_kind_of_leg_means_the_only_one_of_its_kind_on_the_day() -> None:
    assert understand("closed the pass", hearing()) == Close(("hask",))
    assert isinstance(understand("closed the loop", hearing()), Which)


def test_an_hour_of_the_night_is_asked_about() -> None:
    heard = understand("leave at 3", hearing())
    assert isinstance(heard, Which)
    assert [understand(option.says, hearing()) for option in heard.options] == [
        LeaveAt(time(3)),
        LeaveAt(time(15)),
    ]


def test_a_what_if_stays_one_through_the_question_which() -> None:
    heard = understand("what if I leave at 3", hearing())
    assert isinstance(heard, Which)
    assert understand(heard.options[1].says, hearing()) == LeaveAt(time(15), trial=True)


def test_no_phrase_of_the_table_is_two_topics() -> None:
    # Slots are filled by a word that no phrase holds, so only the phrases' own words decide.
    doubtful = []
    for phrase in phrases():
        words = [
            f"slot{number}" if part.slot else min(part.choices)
            for number, part in enumerate(phrase.parts)
        ]
        found = matches(words, frozenset())
        best = [m for m in found if (m.slips, m.literals) == (found[0].slips, found[0].literals)]
        topics = {match.topic for match in best}
        slots = {frozenset(match.slots) for match in best}
        if len(topics) > 1 and len(slots) == 1:
            doubtful.append((words, topics))
    assert not doubtful


def test_every_example_told_to_the_rider_is_understood() -> None:
    for topic, example in EXAMPLES.items():
        line = example.replace("...", "quern", 1).replace("...", "causeway")
        line = line.replace("thursday", "saturday")
        assert not isinstance(understand(line, hearing()), NotUnderstood | UnknownName), topic


def test_every_phrase_keeps_a_word_once_noise_is_dropped() -> None:
    for topic, texts in PHRASES.items():
        for text in texts:
            assert without_noise(text.replace("|", " ").split()), (topic, text)


@given(st.text(max_size=200))
def test_any_text_is_answered(text: str) -> None:
    understand(text, hearing())


@given(st.lists(st.sampled_from(sorted(" ".join(SAID).split())), max_size=8))
def test_any_jumble_of_known_words_is_answered(words: list[str]) -> None:
    understand(" ".join(words), hearing())


FILLED = {
    "leg": "hask saddle",
    "other": "quern point loop",
    "legs": "brindle loop",
    "time": "7:15",
    "day": "saturday",
    "minutes": "40",
    "remark": "fog",
    "place": "sable",
    "distance": "60 km",
    "speed": "50 kmh",
}


def test_every_phrase_of_the_table_is_understood_as_its_topic_or_asked_about() -> None:
    """Every word of every choice, the slots filled: none is lost, none raises."""
    lost = []
    for phrase in phrases():
        most = max(len(part.choices) for part in phrase.parts)
        for number in range(most):
            words = [
                FILLED[part.slot] if part.slot else sorted(part.choices)[number % len(part.choices)]
                for part in phrase.parts
            ]
            heard = understand(" ".join(words), hearing())
            if isinstance(heard, NotUnderstood | UnknownName | UnknownDay):
                lost.append((phrase.topic, " ".join(words), heard))
    assert not lost


@pytest.mark.parametrize("word", ["ok", "okay", "fine", "great", "good", "yes", "perfect"])
@pytest.mark.parametrize("other", ["lads", "blorp", "chief", "brilliant", "noted", "folks"])
def test_an_agreement_with_a_strange_word_offers_nothing_that_closes_the_day(
    word: str, other: str
) -> None:
    """A yes that was meant for the plan would do it."""
    for line in (f"{word} {other}", f"{other} {word}"):
        meant = understand(line, hearing())
        offered = [option.says for option in meant.options] if isinstance(meant, Which) else []
        assert "home safe" not in offered, line

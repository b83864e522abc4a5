"""A day on the road, by the bot and at the terminal: late, closed, tired, home; what was missed.

Tour, weather and the ride are INVENTED. A morning on Friday: the causeway while the tide lets, the
saddle when it has dried, then the small loops.
"""

import numpy as np

from replanner.dialogue.events import Outcome
from tests.stories.ridden import FRIDAY, SATURDAY, TOUR, ByBot, ByTerminal, Teller, at
from tests.trip.rides import Phone

Rider = ByBot | ByTerminal


def rides(rider: Rider, leg: str, leaves: str) -> str:
    """Ride a leg with the position shared live every ten minutes; return the last line told."""
    phone, told = Phone(TOUR, at(leaves), np.random.default_rng(1), 600.0), ""
    for point, when in phone.along(leg):
        rider.passes(when)
        told = rider.shares(point, live=True)
    return told


def a_day_on_the_road(rider: Rider) -> None:
    rider.until("Thu 19:30")
    rider.says("ok")

    # Two legs are ridden with the phone in the tank bag: nobody types, the log fills by itself.
    rider.until("Fri 10:05")
    assert "In by" in rides(rider, "salt_causeway", "Fri 10:05")
    assert "You are at Orrowick" in rider.last.text
    rides(rider, "quern_loop", "Fri 11:50")
    assert [(one.leg, one.outcome) for one in rider.outcome().log] == [
        ("salt_causeway", Outcome.RIDDEN),
        ("quern_loop", Outcome.RIDDEN),
    ]

    # At the foot of the saddle they are late, and the pass is shut: the valley road stands in.
    assert rider.until("Fri 13:49") == ""  # of the loop they had been on nothing was left to say
    late = rider.says("running 40 late")
    assert late.startswith("40 min late")
    assert "In by" in late
    assert "Way home" not in late  # they are at their base
    closed = rider.says("road closed at the saddle")
    assert closed.startswith("Closed until tonight: Hask Saddle. Seen at a sign, or told?")
    assert "Dropped: Hask Saddle (closed)" in closed

    # An hour and a half later it is enough: a break first, then less, then only home.
    rider.until("Fri 15:30")
    tired = rider.says("tired")
    assert tired.startswith("Tired: a break of 15 min first. One class stricter.")
    assert "Dropped:" in tired
    home = rider.says("home")
    assert home.startswith("Shortest safe way home.")
    assert "ok takes it" in home
    assert "Accepted." in rider.says("ok")

    # In. One line closes the day; the phone has told all that was ridden but the valley road, which
    # was only reckoned: it is asked for.
    rider.until("Fri 16:45")
    safe = rider.says("home safe")
    assert safe.startswith("Welcome in. The day is closed.")
    assert "All ridden: 1 Hask valley road?" in safe
    assert rider.says("yes").startswith("Ridden: Hask valley road")
    missed = rider.says("missed gannet (tired)")
    assert missed.startswith("Missed: Gannet Stack spur (tired). It moves to Saturday 3.")

    # And the next plan knows: the spur is asked of Saturday, the tired day is over.
    rider.until("Fri 19:30")
    assert "Sat 3 Apr" in rider.last.text
    tomorrow = rider.outcome().memories[SATURDAY].demands
    assert ("gannet_spur", SATURDAY) in tomorrow.moved
    assert tomorrow.stricter == 0
    assert tomorrow.underway is None


def test_a_day_on_the_road_comes_to_the_same_both_ways(teller: Teller) -> None:
    rider = teller.both_ways(a_day_on_the_road)
    log = {entry.leg: entry.outcome for entry in rider.outcome().log}
    assert log == {
        "salt_causeway": Outcome.RIDDEN,
        "quern_loop": Outcome.RIDDEN,
        "hask_valley_road": Outcome.RIDDEN,
        "gannet_spur": Outcome.MISSED,
    }
    # Nobody is asked after who has said that he is in.
    assert not any("You should be in" in note for note in rider.notes)
    assert rider.outcome().memories[FRIDAY].closed_down


def test_a_day_on_the_road_with_the_power_going_comes_to_the_same(teller: Teller) -> None:
    teller.killed_all_the_time(a_day_on_the_road, teller.by_bot(a_day_on_the_road))


def a_day_without_a_word(rider: Rider) -> None:
    """Nobody types until they are in: what was reckoned by the plan is asked for, not believed."""
    rider.until("Thu 19:30")
    rider.says("ok")
    rider.until("Fri 14:00")
    rider.says("how long have i got")
    rider.says("running 10 late")
    rider.until("Fri 18:50")
    safe = rider.says("home safe")
    assert "All ridden: 1 Salt Causeway" in safe
    assert "Hask Saddle" in safe
    assert rider.says("missed 2").startswith("Missed: Hask Saddle.")
    assert rider.says("yes").startswith("Ridden: Salt Causeway")


def test_what_was_only_reckoned_is_asked_at_the_end(teller: Teller) -> None:
    rider = teller.both_ways(a_day_without_a_word)
    log = {entry.leg: entry.outcome for entry in rider.outcome().log}
    assert log["salt_causeway"] is Outcome.RIDDEN
    assert log["hask_saddle"] is Outcome.MISSED
    rider.says("log")
    assert "Nothing is left to log" in rider.last


def done_in_one_line(rider: Rider) -> None:
    rider.until("Thu 19:30")
    rider.says("ok")
    rider.until("Fri 12:30")
    told = rider.says("done: salt causeway, quern")
    assert told.startswith("Ridden: Salt Causeway and Quern Point loop.")
    known = rider.outcome().memories[FRIDAY].demands.underway
    assert known is not None
    assert {"salt_causeway", "quern_loop"} <= known.ridden
    assert "Quern" not in told.splitlines()[1]  # nor is it planned any more


def test_what_is_done_is_logged_and_not_planned_again(teller: Teller) -> None:
    rider = teller.both_ways(done_in_one_line)
    assert {entry.leg for entry in rider.outcome().log} == {"salt_causeway", "quern_loop"}


def no_signal(rider: Rider) -> None:
    """Behind the hills the words wait in the phone for four and a half hours."""
    rider.until("Thu 19:30")
    rider.says("ok")
    rider.until("Fri 23:00")
    told = rider.says("deep gravel on the low road", sent=at("Fri 18:30"))
    assert told.startswith("Sent 18:30, arrived 23:00: I take it as of 18:30.")
    assert "gravel on Brindle low road" in told
    (report,) = rider.outcome().memories[FRIDAY].demands.reports
    assert report.since == at("Fri 18:30")


def test_words_without_signal_count_from_when_they_were_sent(teller: Teller) -> None:
    teller.both_ways(no_signal)


def not_said_to_be_in(rider: Rider) -> None:
    """By the plan they are in by 18:45."""
    rider.until("Thu 19:30")
    rider.says("ok")
    known = len(rider.notes)
    rider.until("Fri 19:15")
    assert "You should be in" not in rider.since(known)
    asked = rider.until("Fri 21:00")
    assert "You should be in since 18:45. All well? Say: home safe." in asked
    assert "Nothing heard by 19:45" in asked  # the plain text for the person at home
    assert asked.count("You should be in") == 1
    known = len(rider.notes)
    rider.until("Sat 02:00")
    assert "You should be in" not in rider.since(known)


def home_after_all(rider: Rider) -> None:
    """The answer comes, and nobody asks again."""
    not_said_to_be_in(rider)
    # After midnight the word counts from when it was sent: of Friday.
    safe = rider.says("home safe", sent=at("Fri 21:05"))
    assert "Welcome in. The day is closed." in safe


def test_who_is_overdue_is_asked_after_once(teller: Teller) -> None:
    rider = teller.both_ways(home_after_all)
    assert rider.outcome().memories[FRIDAY].closed_down
    assert not rider.outcome().memories[SATURDAY].closed_down

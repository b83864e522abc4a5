"""What is named in a line. The names are INVENTED."""

from datetime import date

from replanner.dialogue.book import TourBook
from replanner.dialogue.intent_types import KeepOrder
from replanner.dialogue.intents import understand
from replanner.dialogue.mentions import said_in
from tests.dialogue.evening import hearing

DAY = date(2027, 4, 2)
BOOK = TourBook(zone="UTC", names=(("road", "Sable to Tolfen"),))


def test_a_small_word_of_a_name_names_no_leg_by_itself() -> None:
    assert said_in(("back", "to", "it"), BOOK, DAY, DAY).mentions == ()
    (named,) = said_in(("skip", "sable", "to", "tolfen"), BOOK, DAY, DAY).mentions
    assert named.words == ("sable", "to", "tolfen")


def test_back_to_my_order_is_the_own_order() -> None:
    assert understand("back to my order", hearing()) == KeepOrder()

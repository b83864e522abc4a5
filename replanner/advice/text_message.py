"""The evening message: at most 10 lines and 650 characters, one idea a line, most important first.

What never goes: line one, leaving and being in by, whatever is no-go, not known or old, how sure
it is, whose word comes first, and the credit of the data with its age.
"""

from replanner.advice import barred_lines as stops
from replanner.advice import message_lines as lines_of
from replanner.advice import trust_lines as trust
from replanner.advice.briefing import Briefing
from replanner.advice.cautions import OF_THE_DAY
from replanner.advice.fitting import LINE, Lines, Part, fit, part, shortest
from replanner.advice.headline import headline
from replanner.advice.leaving_lines import too_early
from replanner.advice.legs_block import legs_part
from replanner.advice.names import shorten
from replanner.advice.over_lines import without_plan, without_plan_briefly
from replanner.advice.road_lines import no_go_road, road_line
from replanner.advice.shut_lines import shut_halts
from replanner.advice.telling import Telling, written
from replanner.advice.words import Words

MOST_LINES = 10
MOST_CHARACTERS = 650
WISHED_WORDS = 90  # kept unless what is met on the legs would have to go
_MOST_PAIN = 61


def message(briefing: Briefing, words: Words | None = None) -> str:
    """Return the evening message.

    Parameters
    ----------
    briefing : Briefing
    words : Words or None
        The rider's language; None: by `briefing.language`.
    """
    parts = _parts(written(briefing, words))
    lines = fit(parts, _fits_well, _MOST_PAIN) or fit(parts, _fits) or shortest(parts)
    return "\n".join(lines)


def _fits(lines: Lines) -> bool:
    return len(lines) <= MOST_LINES and len("\n".join(lines)) <= MOST_CHARACTERS


def _fits_well(lines: Lines) -> bool:
    words = sum(len(line.split()) for line in lines)
    return _fits(lines) and words <= WISHED_WORDS


def _parts(telling: Telling) -> tuple[Part, ...]:
    """Return the parts in the order read; the number is the pain of doing without."""
    return (
        part((headline(telling), 0)),
        part((trust.no_new_plan(telling), 0)),
        part((trust.warnings_line(telling), 0)),
        legs_part(telling),
        part((lines_of.in_by(telling), 0)),
        part((too_early(telling), 0), ("", 72)),
        part((lines_of.clock_change(telling), 0), ("", 80)),
        part((stops.no_go(telling), 0)),
        _road_part(telling),
        part((lines_of.left_out(telling), 0), ("", 60)),
        _shut_part(telling),
        _no_plan_part(telling),
        part((without_plan(telling), 0), (without_plan_briefly(telling), 61), ("", 79)),
        part((lines_of.before_check_in(telling), 0), ("", 78)),
        part((lines_of.why_line(telling), 0), ("", 80 if lines_of.has_reason(telling) else 45)),
        part((lines_of.way_out(telling), 0), ("", 75)),
        _own_order_part(telling),
        _how_sure_part(telling),
        part((trust.not_known(telling), 0)),
        _caution_part(telling),
        part((trust.source_of_data(telling), 0)),
    )


def _own_order_part(telling: Telling) -> Part:
    """Return what keeping the own order means; where it is ridden and breaks, that stays."""
    briefing = telling.briefing
    whole = lines_of.own_order(telling)
    brief = lines_of.own_order(telling, brief=True)
    if briefing.legs and not briefing.changes and briefing.own_order.value_minutes is None:
        return part((whole, 0), (brief, 15), ("", 97))  # line one says it too
    return part((whole, 0), (brief, 15), ("", 55))


def _how_sure_part(telling: Telling) -> Part:
    """Return how sure it is, and when to look again: that it can wait says so already."""
    odds, plain, waits = trust.odds(telling), trust.how_sure(telling), trust.can_wait(telling)
    if not waits:
        return part((plain, 0), (odds, 30))
    looked_at = telling.briefing.next_check is not None
    one_line = ". ".join(filter(None, (odds, trust.can_wait(telling, brief=True))))
    return part(((plain if looked_at else odds, waits), 0), (one_line, 28), (odds, 56))


def _road_part(telling: Telling) -> Part:
    """Return the worst met on plain road; what is no-go stays."""
    line = road_line(telling)
    if no_go_road(telling) is not None:
        return part((line, 0))
    return part((line, 0), ("", 70))


def _shut_part(telling: Telling) -> Part:
    """Return the halts missed since they are shut, the first of them alone, or none."""
    lines = shut_halts(telling)
    return part((lines, 0), (lines[:1], 20), ("", 50))


def _no_plan_part(telling: Telling) -> Part:
    """Return why there is no plan: the demands that clash, and what would have to change."""
    clash, change = stops.not_together(telling), stops.obstacle(telling)
    one_line = shorten(" ".join(clash), LINE)
    return part(((*clash, change), 0), (clash, 12), (one_line, 60), ("", 95))


def _caution_part(telling: Telling) -> Part:
    """Return the caution of the day with whose word comes first, which alone always stays."""
    decide = trust.signs_decide(telling)
    key = next((key for key in telling.briefing.cautions if key in OF_THE_DAY), None)
    if key is None or telling.briefing.departure is None:
        return part((decide, 0))
    caution = telling.words.say(OF_THE_DAY[key].short)
    one_line = telling.words.say("{caution}. {decide}", caution=caution, decide=decide)
    both = (one_line,) if len(one_line) <= LINE else (caution, decide)
    return part((both, 0), ((decide,), 10))

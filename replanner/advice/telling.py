"""What all texts of one briefing share: its words, its figures, its names."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from replanner.advice.briefing import Briefing, HazardNote, PlannedLeg, briefing_names
from replanner.advice.figures import Figures, Shown, SpokenFigures, careful, scale_of
from replanner.advice.names import Names, pronounceable, shorten
from replanner.advice.numerals import number_words
from replanner.advice.wording import noun, wording_of
from replanner.advice.words import Words, words_for
from replanner.trip.model import LegId


@dataclass(frozen=True, slots=True)
class Telling:
    """A briefing with everything needed to put it into sentences, written or spoken."""

    briefing: Briefing
    words: Words
    figures: Figures
    names: Names

    def leg(self, leg: LegId, width: int = 60) -> str:
        """Return the name of a leg in at most about `width` characters."""
        return self.names(leg, width)

    def place(self, name: str, width: int = 60) -> str:
        """Return a place or section as the rider wrote it, shortened."""
        return shorten(name, width)

    def shown(self, note: HazardNote) -> Shown:
        """Return the figures of a note as the rider reads them."""
        scale, told = scale_of(note.unit, self.figures.units), wording_of(note.name)
        limit = note.limit if "{limit}" in told.told + told.seen else None
        return careful(note.value, limit, scale, falling=told.falling)

    def measure(self, shown: float, digits: int, unit: str) -> str:
        """Return a figure in the rider's unit with the unit."""
        return self.figures.measure(shown, digits, scale_of(unit, self.figures.units))

    def hazard(self, note: HazardNote, *, limit: bool = True) -> str:
        """Return hazard, figure and, if wanted, limit: "gust 95, limit 64 km/h"."""
        name = noun(note.name, self.words)
        if note.unknown:
            return self.words.say("no data for {hazard}", hazard=name)
        shown, told = self.shown(note), wording_of(note.name)
        if shown.value is None or note.unit in ("", "1"):
            return name
        if told.from_nothing and shown.value <= 0:
            return name
        if shown.limit is None or not limit or "{limit}" not in told.told:
            value = self.measure(shown.value, shown.digits, note.unit)
            return self.words.say(told.brief, hazard=name, value=value)
        return self.words.say(
            told.told,
            hazard=name,
            value=self.figures.number(shown.value, shown.digits),
            limit=self.measure(shown.limit, shown.digits, note.unit),
        )

    def reason(self, note: HazardNote, *, width: int = 60, limit: bool = True) -> str:
        """Return hour, number, threshold and place of a hazard; width 0 leaves the place out."""
        hazard, hour = self.hazard(note, limit=limit), self.figures.clock(note.hour)
        place = self.place(note.section, width) if width else ""
        if not place:
            return self.words.say("at {time} {hazard}", hazard=hazard, time=hour)
        return self.words.say("at {time} {hazard}, {place}", hazard=hazard, time=hour, place=place)

    def leg_reason(
        self, leg: LegId, note: HazardNote, width: int, *, place: bool, limit: bool = True
    ) -> str:
        """Return a leg with the reason; its section too if wanted and not the leg's own name."""
        name = self.leg(leg, width)
        wanted = place and note.section.casefold() != self.names(leg).casefold()
        reason = self.reason(note, width=width if wanted else 0, limit=limit)
        return self.words.say("{leg} {reason}", leg=name, reason=reason)

    def seen(self, note: HazardNote) -> str:
        """Return what the rider would see of a hazard: "gusts over 64 km/h"."""
        told, shown = wording_of(note.name), self.shown(note)
        if "{limit}" not in told.seen:
            return self.words.say(told.seen)
        if shown.limit is None:
            return noun(note.name, self.words)
        return self.words.say(told.seen, limit=self.measure(shown.limit, shown.digits, note.unit))

    def planned(self, leg: LegId) -> PlannedLeg | None:
        """Return a leg of the plan, None if it is not ridden."""
        return next((planned for planned in self.briefing.legs if planned.id == leg), None)

    def clock_change(self) -> timedelta:
        """Return by how much the clocks jump between noon of the day before and noon."""
        noon = datetime.combine(self.briefing.date, time(12), self.figures.zone)
        before = noon - timedelta(days=1)
        return (noon.utcoffset() or timedelta()) - (before.utcoffset() or timedelta())


@dataclass(frozen=True, slots=True)
class SpokenTelling(Telling):
    """The same for reading aloud: names in a few plain words, figures in full."""

    def leg(self, leg: LegId, width: int = 60) -> str:
        """Return the first words of a leg's name, as many as tell it from the others."""
        mine = self._spoken(self.names(leg, 200), width)
        same = [key for key in self.names.full if self._spoken(self.names(key, 200), width) == mine]
        if len(same) < 2 or leg not in same:  # noqa: PLR2004 - another leg sounds the same
            return mine
        last = pronounceable(self.names(leg, 200), 99, 999)[-1]
        return f"{self._spoken(mine, max(width - len(last), 8))} {self._spoken(last, width)}"

    def place(self, name: str, width: int = 60) -> str:
        """Return the first words of a place, without signs."""
        return self._spoken(name, width)

    def _spoken(self, name: str, width: int) -> str:
        most = 2 if width < 20 else 3  # noqa: PLR2004 - a few words a name, fewer when short
        return " ".join(
            _digits(word, self.words) for word in pronounceable(name, most, min(width, 28))
        )


def _digits(word: str, words: Words) -> str:
    if not word.isdecimal():
        return word
    if len(word) <= 2:  # noqa: PLR2004 - road numbers are read digit by digit
        return number_words(int(word), words)
    return " ".join(number_words(int(digit), words) for digit in word)


def written(briefing: Briefing, words: Words | None = None) -> Telling:
    """Return the telling of a briefing for the screen."""
    words = words or words_for(briefing.language)
    figures = Figures(words, briefing.units, ZoneInfo(briefing.zone), briefing.date)
    return Telling(briefing, words, figures, Names(all_names(briefing)))


def aloud(briefing: Briefing, words: Words | None = None) -> SpokenTelling:
    """Return the telling of a briefing for reading aloud."""
    words = words or words_for(briefing.language)
    figures = SpokenFigures(words, briefing.units, ZoneInfo(briefing.zone), briefing.date)
    return SpokenTelling(briefing, words, figures, Names(all_names(briefing)))


def all_names(briefing: Briefing) -> Mapping[LegId, str]:
    """Return the names of all legs, those of plan B too."""
    second = {leg.id: leg.name for leg in briefing.plan_b.legs} if briefing.plan_b else {}
    return second | briefing_names(briefing)

"""What all texts of one briefing share: its words, its figures, its names."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from replanner.advice.briefing import (
    Briefing,
    DecisionPoint,
    HazardNote,
    PlannedLeg,
    briefing_names,
)
from replanner.advice.figures import Figures, Shown, SpokenFigures, careful, scale_of
from replanner.advice.names import Names, first_words, pronounceable
from replanner.advice.numerals import number_words
from replanner.advice.wording import noun, wording_of
from replanner.advice.words import Words, words_for
from replanner.trip.model import LegId, LegKind

_WIDE = 40  # characters of a name read aloud


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
        """Return a place or section as the rider wrote it, in its first words."""
        return first_words(name, width)

    def shown(self, note: HazardNote) -> Shown:
        """Return the figures of a note as the rider reads them."""
        scale, told = scale_of(note.unit, self.figures.units), wording_of(note.name)
        limit = note.limit if "{limit}" in told.told + told.seen else None
        return careful(note.value, limit, scale, falling=told.falling)

    def measure(self, shown: float, digits: int, unit: str) -> str:
        """Return a figure in the rider's unit with the unit."""
        return self.figures.measure(shown, digits, scale_of(unit, self.figures.units))

    def hazard(self, note: HazardNote, *, limit: bool = True, figure: bool = True) -> str:
        """Return hazard, figure and limit, as far as wanted: "gust 95, limit 64 km/h"."""
        name = noun(note.name, self.words)
        if note.unknown:
            return self.words.say("no data for {hazard}", hazard=name)
        shown, told = self.shown(note), wording_of(note.name)
        if not figure:
            return self.words.say(told.alone or told.noun)
        if shown.value is None:
            return self.words.say(told.by_code or told.noun)
        if note.unit in ("", "1") or (told.from_nothing and shown.value <= 0):
            return name
        if shown.limit is None or not limit or "{limit}" not in told.told:
            value = self.measure(shown.value, shown.digits, note.unit)
            return self.words.say(told.brief, hazard=name, value=value, span=self._span(note))
        return self.words.say(
            told.told,
            hazard=name,
            value=self.figures.number(shown.value, shown.digits),
            limit=self.measure(shown.limit, shown.digits, note.unit),
            span=self._span(note),
        )

    def _span(self, note: HazardNote) -> str:
        """Return over how many hours a figure is a sum."""
        return self.figures.span(wording_of(note.name).span_hours)

    def reason(
        self, note: HazardNote, *, width: int = 60, limit: bool = True, figure: bool = True
    ) -> str:
        """Return hour, number, threshold and place of a hazard; width 0 leaves the place out."""
        hazard = self.hazard(note, limit=limit, figure=figure)
        hour = self.figures.clock(note.hour)
        place = self.place(note.section, width) if width else ""
        if not place:
            return self.words.say("at {time} {hazard}", hazard=hazard, time=hour)
        return self.words.say("at {time} {hazard}, {place}", hazard=hazard, time=hour, place=place)

    def leg_reason(
        self,
        leg: LegId,
        note: HazardNote,
        width: int,
        *,
        place: bool = False,
        limit: bool = True,
        figure: bool = True,
    ) -> str:
        """Return a leg with the reason; its section too if wanted and not the leg's own name."""
        name = self.leg(leg, width)
        wanted = place and note.section.casefold() != self.names(leg).casefold()
        reason = self.reason(note, width=width if wanted else 0, limit=limit, figure=figure)
        return self.words.say("{leg} {reason}", leg=name, reason=reason)

    def seen(self, note: HazardNote) -> str:
        """Return what the rider would see of a hazard: "gusts over 64 km/h"."""
        told, shown = wording_of(note.name), self.shown(note)
        if "{limit}" not in told.seen:
            return self.words.say(told.seen)
        if shown.limit is None:
            return noun(note.name, self.words)
        return self.words.say(told.seen, limit=self.measure(shown.limit, shown.digits, note.unit))

    def look_for(self, point: DecisionPoint) -> str:
        """Return what to look for at a decision point; empty: only the hour decides."""
        leg = self.planned(point.leg)
        if leg is not None and leg.kind == LegKind.CROSSING:
            return self.words.say("no boat")
        if point.rule is None or not wording_of(point.rule.name).decides:
            return ""
        return self.seen(point.rule)

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
    """The same for reading aloud: names in plain words, figures in full."""

    def leg(self, leg: LegId, width: int = _WIDE) -> str:
        """Return a leg's name, its first words where it is longer than about `width`."""
        return self._in_words(pronounceable(self.names(leg, min(width, _WIDE))))

    def place(self, name: str, width: int = _WIDE) -> str:
        """Return a place without signs, its first words where it is longer than `width`."""
        return self._in_words(first_words(pronounceable(name), min(width, _WIDE), " "))

    def _in_words(self, name: str) -> str:
        return " ".join(_digits(word, self.words) for word in name.split())


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
    unsayable = words.say("the leg without a name")
    names = {leg: pronounceable(name) or unsayable for leg, name in all_names(briefing).items()}
    return SpokenTelling(briefing, words, figures, Names(names, " "))


def all_names(briefing: Briefing) -> Mapping[LegId, str]:
    """Return the names of all legs, those of plan B too."""
    second = {leg.id: leg.name for leg in briefing.plan_b.legs} if briefing.plan_b else {}
    return second | briefing_names(briefing)

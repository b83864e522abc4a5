"""Files from a chat: looked at before they are fetched, read behind a gate, never trusted."""

import hashlib
from collections.abc import Callable
from datetime import datetime

from replanner.advice.names import clean, shorten
from replanner.dialogue.events import TourCame, TrackCame
from replanner.errors import InputError, ReplannerError
from replanner.post import FileIn
from replanner.service.dealing import Ridden, Store
from replanner.trip.model import LegId, Tour

MOST_BYTES = 2_000_000
# Some twenty times a tour of five days; reading one costs more than reading a track.
MOST_TOUR_BYTES = 400_000
_MOST_MISTAKES = 20  # told at once
_TOUR, _TRACK = ".toml", ".gpx"
_TOKEN_LENGTH = 12
_LONGEST_NAME = 40
_TOO_LARGE = f"{MOST_BYTES // 1_000_000} MB are the most"
_LONGEST_LOOKED_AT = 400
_LONGEST_LINE = 180


class FileDesk:
    """Reads the files riders send.

    Parameters
    ----------
    store : Store
        Keeps a tour file aside until the leader has said yes.
    fetch : callable
        Fetches a file from the chat service; raises ReplannerError.
    read_tour : callable
        Reads a tour file; raises InputError with every mistake.
    legs_on_track : callable
        Which legs of a tour a GPX file ran along, and its length [km]; raises InputError.
    """

    def __init__(
        self,
        store: Store,
        fetch: Callable[[FileIn], bytes],
        read_tour: Callable[[bytes], Tour],
        legs_on_track: Callable[[bytes, Tour], tuple[tuple[LegId, ...], float]],
    ) -> None:
        self._store, self._fetch = store, fetch
        self._read_tour, self._legs_on_track = read_tour, legs_on_track

    def event(
        self, file: FileIn, ridden: Ridden, sent: datetime, *, leads: bool
    ) -> TourCame | TrackCame:
        """Return what a file is, or why it cannot be used. Its name is only told, never used.

        A tour file of one who does not lead is not even fetched: it would take the place of the
        one the leader is asked about.
        """
        name, kind = _told(file.name), _kind(file.name)
        why = _unwelcome(file.size, kind, leads=leads)
        if why:
            return _refused(name, f"{name}: {why}", sent)
        try:
            content = self._fetch(file)
        except ReplannerError as error:
            return _refused(name, str(error), sent)
        why = _unwelcome(len(content), kind, leads=leads)
        if why:  # the size told before was not the true one
            return _refused(name, f"{name}: {why}", sent)
        if kind == _TOUR:
            return self._tour(name, content, ridden, sent)
        return self._track(name, content, ridden, sent)

    def _tour(self, name: str, content: bytes, ridden: Ridden, sent: datetime) -> TourCame:
        try:
            tour = self._read_tour(content)
        except InputError as error:
            mistakes = tuple(shorten(str(fault), _LONGEST_LINE) for fault in error.faults)
            mistakes = (*mistakes[:_MOST_MISTAKES], *_and_more(len(mistakes) - _MOST_MISTAKES))
            return TourCame(name=name, token="", days=(), legs=0, mistakes=mistakes, sent=sent)
        token = hashlib.sha256(content).hexdigest()[:_TOKEN_LENGTH]
        with self._store.work() as work:
            work.set_aside(ridden.group.id, token, content.decode("utf-8"))
        return TourCame(
            name=name,
            token=token,
            days=tuple(day.date for day in tour.days),
            legs=len(tour.legs),
            mistakes=(),
            sent=sent,
        )

    def _track(self, name: str, content: bytes, ridden: Ridden, sent: datetime) -> TrackCame:
        try:
            legs, distance_km = self._legs_on_track(content, ridden.tour)
        except InputError as error:
            return _refused(name, str(error), sent)
        return TrackCame(name=name, legs=legs, distance_km=distance_km, refusal="", sent=sent)


def _unwelcome(size: int, kind: str, *, leads: bool) -> str:
    """Return why a file is not even fetched; empty: it is."""
    if size > MOST_BYTES:
        return _TOO_LARGE
    if not kind:
        return "I can read a tour file (.toml) or a track (.gpx)"
    if kind == _TOUR and size > MOST_TOUR_BYTES:
        return f"{MOST_TOUR_BYTES // 1000} kB are the most for a tour file"
    return "the leader sends the tour file" if kind == _TOUR and not leads else ""


def _and_more(number: int) -> tuple[str, ...]:
    return (f"... and {number} more",) if number > 0 else ()


def _kind(name: str) -> str:
    """Return which kind of file a name ends like: one of ours, or none."""
    end = name[-len(_TOUR) :].strip().lower()
    return next((kind for kind in (_TOUR, _TRACK) if end.endswith(kind)), "")


def _told(name: str) -> str:
    """Return a name fit to be told: what follows the last folder, on one line, not too long."""
    bare = clean(name[-_LONGEST_LOOKED_AT:]).replace("\\", "/").rpartition("/")[2]
    stem, dot, end = bare.rpartition(".")
    room = _LONGEST_NAME - len(dot + end)
    return shorten(stem, room) + dot + end if dot and room > 0 else shorten(bare, _LONGEST_NAME)


def _refused(name: str, why: str, sent: datetime) -> TrackCame:
    return TrackCame(name=name, legs=(), distance_km=0.0, refusal=why, sent=sent)

"""Putting the bot's parts together and keeping them running until told to stop."""

import asyncio
import logging
import signal
from collections.abc import Callable, Coroutine, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import lru_cache

from apscheduler.schedulers.asyncio import AsyncIOScheduler
from telegram import Bot
from telegram.error import InvalidToken, TelegramError
from telegram.request import HTTPXRequest

from replanner import making
from replanner.advice.briefing import Briefing
from replanner.advice.words import words_for
from replanner.channels.telegram.incoming import read
from replanner.channels.telegram.poller import Poller
from replanner.channels.telegram.redaction import RedactingFormatter
from replanner.channels.telegram.sender import Files, Sender
from replanner.dialogue.book import book_of
from replanner.dialogue.events import Replan
from replanner.errors import InputError, ReplannerError
from replanner.files.gpx_in import read_gpx
from replanner.files.settings import TOKEN_VARIABLE, Service, Settings
from replanner.people import ChatId, Group, Member
from replanner.post import Arrived, DueKind, FileIn, PlanRef
from replanner.service.dealing import Ridden
from replanner.service.files_in import FileDesk
from replanner.service.joining import Hours, Joining
from replanner.service.made_once import MadeOnce
from replanner.service.office import Hands, Office
from replanner.service.pressure import Pressure
from replanner.service.rounds import Means, Rounds
from replanner.service.running import Running
from replanner.service.status import Health, serve_status
from replanner.service.workshop import Workshop
from replanner.store.store import open_store
from replanner.trip.model import LegId, Tour
from replanner.trip.track_line import TrackLine
from replanner.trip.track_match import legs_on_track

_LOG = logging.getLogger(__name__)

_THREADS = 16  # for what riders send; those for what is due come on top
_HANDS_A_WORKER = 4  # a group of four waits for one plan
_CONNECTIONS = 32
_FIRST_PAUSE, _LONGEST_PAUSE = 1.0, 30.0
_PATIENCE = timedelta(minutes=5)  # after that an operator is told that something is wrong
_STRANGERS_TOLD = 1000
_FILES_KEPT = 64  # pictures of some 100 kB: groups get theirs within minutes of each other


def start_logging(level: int) -> None:
    """Log to standard error, tokens taken out; what people write or share is never logged."""
    handler = logging.StreamHandler()
    handler.setFormatter(RedactingFormatter("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    logging.basicConfig(level=level, handlers=[handler], force=True)
    logging.getLogger("telegram.Bot").setLevel(logging.INFO)  # below it, whole updates
    if level > logging.DEBUG:
        for chatty in ("apscheduler", "httpx"):  # a line a look, a line a call
            logging.getLogger(chatty).setLevel(logging.WARNING)


async def serve(settings: Settings, token: str, now: Callable[[], datetime]) -> None:
    """Run the bot until SIGTERM or SIGINT.

    Raises
    ------
    InputError
        If the chat service does not know the token, or the status port is taken.
    StoreError
        If the database cannot be opened.
    """
    house = _House(settings, token, now)
    try:
        await house.run()
    finally:
        await house.close()


class _House:
    """All parts of a running bot."""

    def __init__(self, settings: Settings, token: str, now: Callable[[], datetime]) -> None:
        service = settings.service
        self._settings, self._now = settings, now
        self._started = now()
        self._store = open_store(settings.state_address, now)
        hands = _HANDS_A_WORKER * max(service.workers, 2)
        self._threads = ThreadPoolExecutor(_THREADS + hands, thread_name_prefix="office")
        self._workshop = Workshop(service.workers, making.warm, making.IMPORTS)
        fetching = HTTPXRequest(connection_pool_size=2)
        self._bot = Bot(
            token,
            base_url=f"{service.address}/bot",
            base_file_url=f"{service.address}/file/bot",
            request=HTTPXRequest(connection_pool_size=_CONNECTIONS),
            get_updates_request=fetching,
        )
        self._strangers: set[ChatId] = set()
        self._ridden = lru_cache(maxsize=256)(_ridden)
        joining = Joining(self._store, self._ridden, _hours(service))
        office = Office(self._store, self._hands(), joining, self._file_desk(), Pressure())
        rounds = Rounds(self._store, Means(ridden=self._ridden, make=self._make_for_many, now=now))
        lease = timedelta(seconds=service.lease_seconds)
        self._running = Running(
            self._store, office, rounds, self._threads, now, lease=lease, hands=hands
        )
        self._poller = Poller(self._bot, fetching, self._last_number, self._receive, now)
        self._sender = Sender(
            self._bot,
            self._store,
            self._files(),
            self._unreachable,
            now,
            per_second=service.messages_per_second,
            lease=lease,
        )
        self._scheduler = AsyncIOScheduler(timezone=UTC)
        self._loop = asyncio.get_running_loop()
        # Each letter under way may wait there for its picture, and none for the others'.
        self._loop.set_default_executor(ThreadPoolExecutor(_CONNECTIONS, thread_name_prefix="io"))

    async def run(self) -> None:
        """Run until told to stop."""
        stop = asyncio.Event()
        for sign in (signal.SIGTERM, signal.SIGINT):
            self._loop.add_signal_handler(sign, stop.set)
        status = await self._serve_status()
        with self._store.work() as work:
            work.set_due(DueKind.HOUSEKEEPING, 0, self._now())
        self._scheduler.add_job(
            self._running.round,
            "interval",
            seconds=self._settings.service.look_every_seconds,
            next_run_time=datetime.now(UTC),
            misfire_grace_time=None,  # a loop that was busy looks late rather than not at all
            coalesce=True,
            max_instances=1,
        )
        self._scheduler.start()
        tasks = [
            asyncio.create_task(self._connected(self._poller.run(self._running.arrived))),
            asyncio.create_task(self._sender.run(self._running.posted)),
            asyncio.create_task(self._running.arrivals(stop)),
        ]
        stopped = asyncio.create_task(_told(stop))
        done, _ = await asyncio.wait([*tasks, stopped], return_when=asyncio.FIRST_COMPLETED)
        stop.set()
        _LOG.info("stopping")
        self._scheduler.shutdown(wait=False)
        if status is not None:
            status.close()
        for task in tasks[:2]:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        for task in done - {stopped}:
            task.result()  # one of them fell: say why

    async def close(self) -> None:
        """Let everything go."""
        self._workshop.close()
        self._threads.shutdown(wait=False, cancel_futures=True)
        with suppress(TelegramError, RuntimeError):
            await self._bot.shutdown()
        self._store.close()

    async def _connected(self, then: Coroutine[None, None, None]) -> None:
        """Wait until the chat service knows us, then go on."""
        pause = _FIRST_PAUSE
        while True:
            try:
                await self._bot.initialize()
                break
            except InvalidToken:
                raise InputError(
                    "the chat service does not know this token",
                    where=f"environment variable {TOKEN_VARIABLE}, or token_file in settings.toml",
                    mend="put the right token there",
                ) from None
            except TelegramError as error:
                _LOG.warning("the chat service is not there: %s; again in %.0f s", error, pause)
                await asyncio.sleep(pause)
                pause = min(2 * pause, _LONGEST_PAUSE)
        await then

    async def _serve_status(self) -> asyncio.Server | None:
        port = self._settings.service.status_port
        if port == 0:
            return None
        try:
            return await serve_status(port, self._health, _PATIENCE)
        except OSError as error:
            raise InputError(
                f"port {port} is taken ({error.strerror or error})",
                where="status_port in settings.toml",
                mend="name another one, or 0 for none",
            ) from error

    def _health(self) -> Health:
        return Health(
            now=self._now(),
            started=self._started,
            counts=self._store.counts(),
            last_round=self._running.last_round,
            last_sent=self._sender.last_sent,
            last_fetch=self._poller.last_answer,
        )

    def _hands(self) -> Hands:
        return Hands(
            read=read,
            ridden=self._ridden_of,
            make=self._make,
            refuse_stranger=self._refuse_stranger,
            say_at_once=self._say_at_once,
            now=self._now,
        )

    def _file_desk(self) -> FileDesk:
        return FileDesk(self._store, self._fetch, _read_tour, _legs_on_track)

    def _ridden_of(self, member: Member) -> Ridden:
        group = self._store.group(member.group)
        assert group is not None, "a member belongs to a group"  # noqa: S101 - a foreign key
        return self._ridden(group)

    def _make(self, ridden: Ridden, request: Replan) -> Briefing:
        return self._workshop.run(making.plan, self._order(ridden, request))

    def _make_for_many(self, ridden: Ridden, request: Replan) -> Briefing:
        return self._workshop.run_among_many(making.plan, self._order(ridden, request))

    def _order(self, ridden: Ridden, request: Replan) -> making.Order:
        return making.Order(tour_text=ridden.group.tour_text, request=request, now=self._now())

    def _files(self) -> Files:
        async def plan(ref: PlanRef) -> Briefing:
            return await asyncio.to_thread(self._plan_of, ref)

        async def picture(_: PlanRef, plan: Briefing) -> bytes:
            return await asyncio.to_thread(self._workshop.run_among_many, making.picture, plan)

        async def track(ref: PlanRef, plan: Briefing) -> bytes:
            text = await asyncio.to_thread(self._tour_text, ref)
            return await asyncio.to_thread(self._workshop.run_among_many, making.track, plan, text)

        return Files(
            picture=MadeOnce(plan, picture, _FILES_KEPT).of,
            track=MadeOnce(plan, track, _FILES_KEPT).of,
        )

    def _plan_of(self, ref: PlanRef) -> Briefing:
        plan = self._store.plan(ref)
        if plan is None:
            raise ReplannerError("that plan is not kept any more")
        return plan

    def _tour_text(self, ref: PlanRef) -> str:
        group = self._store.group(int(ref.tour_key.rpartition(" ")[2]))
        if group is None:
            raise ReplannerError("that tour is not kept any more")
        return group.tour_text

    def _fetch(self, file: FileIn) -> bytes:
        async def fetch() -> bytes:
            found = await self._bot.get_file(file.file)
            return bytes(await found.download_as_bytearray())

        try:
            return asyncio.run_coroutine_threadsafe(fetch(), self._loop).result()
        except TelegramError as error:
            raise ReplannerError(
                f"the file cannot be fetched: {error}", mend="send it again"
            ) from error

    def _refuse_stranger(self, chat: ChatId) -> None:
        if chat in self._strangers or len(self._strangers) >= _STRANGERS_TOLD:
            return
        self._strangers.add(chat)
        line = words_for("en").say(
            "This is a private service for invited riders. Nothing of you is kept."
        )
        self._say_at_once(chat, line)

    def _say_at_once(self, chat: ChatId, line: str) -> None:
        """Send a line past the outbox: it is not kept, and not sent again."""

        async def tell() -> None:
            with suppress(TelegramError):
                await self._bot.send_message(chat, line)

        asyncio.run_coroutine_threadsafe(tell(), self._loop)

    def _unreachable(self, chat: ChatId) -> None:
        member = self._store.member_of(chat)
        if member is not None:
            with self._store.work() as work:
                work.change_member(replace(member, reachable=False))

    async def _last_number(self) -> int | None:
        return await asyncio.to_thread(self._store.last_number)

    async def _receive(self, arrivals: Sequence[Arrived]) -> None:
        await asyncio.to_thread(self._store.receive, arrivals, self._now())
        self._running.cried(arrivals)


async def _told(stop: asyncio.Event) -> None:
    await stop.wait()


def _ridden(group: Group) -> Ridden:
    tour = making.read_tour(group.tour_text)
    return Ridden(group=group, tour=tour, book=book_of(tour))


def _read_tour(content: bytes) -> Tour:
    try:
        return making.read_tour(content.decode("utf-8"))
    except UnicodeDecodeError:
        raise InputError("the file is not UTF-8 text", mend="save it as UTF-8") from None


def _legs_on_track(content: bytes, tour: Tour) -> tuple[tuple[LegId, ...], float]:
    tracks = read_gpx(content, where="your track")
    legs = dict.fromkeys(found.leg for track in tracks for found in legs_on_track(tour, track))
    lines = (TrackLine.of(track) for track in tracks)
    return tuple(legs), sum(float(line.length.sum()) for line in lines if line is not None) / 1000.0


def _hours(service: Service) -> Hours:
    return Hours(
        evening_at=service.evening_at,
        quiet_from=service.quiet_from,
        quiet_to=service.quiet_to,
    )

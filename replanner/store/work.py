"""One transaction over everything that is kept."""

from replanner.store.counts import CountRows
from replanner.store.inbox import InboxRows
from replanner.store.outbox import OutboxRows
from replanner.store.plan_rows import PlanRows
from replanner.store.positions import PositionRows
from replanner.store.privacy import PrivacyRows
from replanner.store.talk_rows import TalkRows


class StoreWork(PlanRows, TalkRows, InboxRows, OutboxRows, PositionRows, PrivacyRows, CountRows):
    """A `ports.Work`: made and ended by `Store.work`."""

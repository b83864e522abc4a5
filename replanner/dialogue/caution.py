"""Whether a change of demands adds caution, and nothing else: anybody may do that, at once."""

from dataclasses import replace

from replanner.trip.edits import Demands
from replanner.trip.underway import ReportKind


def adds_caution(old: Demands, new: Demands) -> bool:
    """Tell whether a change holds something that makes the day more careful."""
    worse = {one for one in new.reports - old.reports if one.kind is not ReportKind.DRY}
    return bool(new.closed - old.closed or worse or new.stricter > old.stricter or _held(old, new))


def _held(old: Demands, new: Demands) -> bool:
    """Tell whether the riders wait longer before they ride on."""
    was, now = old.underway, new.underway
    if now is None or now.ready <= now.at:
        return False
    return was is None or now.ready > was.ready


def only_adds_caution(old: Demands, new: Demands) -> bool:
    """Tell whether a change adds caution and does nothing else.

    Where the riders are may change with it; what is closed need not be ridden any more.
    """
    softer = any(one.kind is ReportKind.DRY for one in new.reports - old.reports)
    if not adds_caution(old, new) or softer or old.reports - new.reports:
        return False
    if old.closed - new.closed or new.stricter < old.stricter or new.forced - old.forced:
        return False
    return new == replace(
        old,
        closed=new.closed,
        reports=new.reports,
        stricter=new.stricter,
        forced=new.forced,
        underway=new.underway,
    )

"""Everything said to the rider of a briefing, one page: each is a pure function of it."""

from replanner.advice.text_message import message

__all__ = ["message"]

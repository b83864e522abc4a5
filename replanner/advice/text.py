"""Everything said to the rider of a plan, on one page: each is a pure function of a briefing.

Every function takes the `Words` of a language last; None means the briefing's own language.
"""

from replanner.advice.spoken import spoken
from replanner.advice.text_choices import decision_text, differences, plan_b_text
from replanner.advice.text_message import message
from replanner.advice.text_reasons import own_order_text, why
from replanner.advice.text_state import (
    accepted_text,
    cautions_text,
    forecast_text,
    odds_text,
    standing_text,
)

__all__ = [
    "accepted_text",
    "cautions_text",
    "decision_text",
    "differences",
    "forecast_text",
    "message",
    "odds_text",
    "own_order_text",
    "plan_b_text",
    "spoken",
    "standing_text",
    "why",
]

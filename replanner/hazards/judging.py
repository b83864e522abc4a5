"""What makes a level a response: who rides, and how open the road lies."""

from collections.abc import Mapping
from dataclasses import dataclass

from replanner.hazards.combine import added_for, lifted, respond, severity_of
from replanner.hazards.limits import Limits
from replanner.hazards.model import Booleans, Floats, Hazard, Party
from replanner.hazards.register import HAZARDS
from replanner.trip.model import Exposure


def added_by(party: Party) -> dict[str, float]:
    """Return the levels a party adds to each hazard, by its name."""
    return {hazard.name: added_for(party, hazard) for hazard in HAZARDS}


@dataclass(frozen=True, slots=True, kw_only=True)
class Judging:
    """Who judges one piece.

    `alone_step` is what is added to every level where nobody could help, `added` what the party
    adds to that of each hazard, by its name (`added_by`).
    """

    party: Party
    limits: Limits
    exposure: Exposure
    alone_step: float
    added: Mapping[str, float]

    def taken_like(self, hazard: Hazard) -> tuple[bool, float]:
        """Return what hazards have in common whose levels make the same responses."""
        return hazard.shelter_helps, self.added[hazard.name]

    def response(self, hazard: Hazard, level: Floats, stand_in: Booleans) -> Floats:
        """Return a hazard's level as this party has to take it here; NaN stays NaN.

        `stand_in` says, broadcastable to the level, where the leg has one that can be ridden. The
        worse the level, the worse the response.
        """
        return respond(
            lifted(lifted(level, self.added[hazard.name]), self.alone_step),
            self.exposure,
            shelter_helps=hazard.shelter_helps,
            stand_in=stand_in,
        )

    def severity(self, worst: Floats, second: Floats, unknown: Booleans) -> Floats:
        """Return the severity from the responses of the two worst kinds."""
        return severity_of(worst, second, unknown, exposure=self.exposure, party=self.party)

"""The published and recomputed check values of tests/data/checks.json."""

import json
from pathlib import Path
from typing import Any

CHECKS: dict[str, Any] = json.loads(
    (Path(__file__).parent / "data" / "checks.json").read_text(encoding="utf-8")
)

"""The corridor: an evening from tour to message, one call a step."""

"""Which day is best: the day as a problem, its exact search, and the plan timed to the minute."""

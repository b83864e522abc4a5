"""What the weather means here: one module a hazard, and how they add up on a leg."""

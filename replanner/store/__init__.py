"""What outlives a run."""

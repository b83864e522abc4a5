"""What the sky does: the hourly table, daylight and the sun."""

"""A weather-aware daily replanner for motorcycle tours."""

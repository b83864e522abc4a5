"""Forecast services: each reader turns its answers into the one hourly table."""

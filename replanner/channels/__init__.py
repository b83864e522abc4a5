"""Ways to talk with a rider."""

"""What the rider says and what follows: a pure conversation, no channel known."""

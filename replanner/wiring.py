"""The only file that knows every adapter by name."""

"""What is said: reasons worked out by solving again, cautions, and the message."""

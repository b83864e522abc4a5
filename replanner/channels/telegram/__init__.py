"""Talking through the Telegram Bot API: what arrives is put on record, what is posted is sent."""

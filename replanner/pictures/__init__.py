"""Pictures of plans, for a phone: import a module of it only when one is to be drawn."""

"""Players and sound files: the world of sound outside. Imports drill and below, never store or settings."""

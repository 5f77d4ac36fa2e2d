"""Where listeners, blocks and answers are kept: SQLite. Imports drill and below, never audio or settings."""

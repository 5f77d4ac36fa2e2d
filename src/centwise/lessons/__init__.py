"""Lessons: small TOML files that say what a pupil practises, read, found and followed. Imports planning and below."""

"""The terminal app. Textual lives here alone; imports lessons and below."""

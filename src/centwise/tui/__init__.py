"""The terminal app. Textual lives here alone; imports conductor and below."""

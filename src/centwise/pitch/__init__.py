"""Measuring recordings: cents between a harmonic and the note fretted at its place. Pure; imports strings and below."""

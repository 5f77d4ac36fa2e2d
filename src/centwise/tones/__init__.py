"""Synthesis of plucked strings as harmonic-versus-fretted pairs. Pure: numpy; imports strings and below."""

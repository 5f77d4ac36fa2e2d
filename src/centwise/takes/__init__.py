"""Takes of a real instrument: recorded from a microphone, kept in a folder, read back, told, made into pairs.

Imports audio and below.
"""

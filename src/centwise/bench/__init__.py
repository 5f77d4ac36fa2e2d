"""The rehearsal bridge as a state machine: act in, new state and effects out. No I/O, no clock.

Imports tones and below.
"""

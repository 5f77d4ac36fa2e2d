"""A block of pairs to judge, as a state machine: event in, new state and effects out. No I/O, no clock.

Imports ear and below.
"""

"""What the user set once: a TOML file, the environment and the command line, read in that order.

Imports strings and below.
"""

"""centwise: train and measure the ear for a few cents, and read them as millimetres of bridge.

Importing the package loads nothing else: `--version` and `--help` stay quick.
"""

__version__ = "0.1.0"

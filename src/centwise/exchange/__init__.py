"""The data format for passing data on: JSON Lines records to and from the model. Standard library only, no I/O.

docs/data-format.md describes it, docs/data-format.schema.json is its JSON Schema; a test holds all three together.
Imports strings and below.
"""

"""Pages of HTML to read or print: self-contained, light and dark, names escaped. Jinja2 is loaded here alone.

Imports chain and below.
"""

"""The instrument, the physics of its strings and the geometry of its bridge. Pure; imports model and below."""

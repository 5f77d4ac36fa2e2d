"""The listening chain, checked part by part: tones, players, device, ears, loop, store, estimate.

Imports progress and below.
"""

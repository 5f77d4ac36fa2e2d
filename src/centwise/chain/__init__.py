"""The listening chain, checked part by part: tones, players, device, ears, loop, store, estimate.

Imports progress_text and below.
"""

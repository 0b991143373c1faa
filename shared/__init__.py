"""The words that every room speaks: pitch, degree, quality, chord, key, chart, pattern, match, errors.

Frozen dataclasses without input or output; nothing here imports from another room.
"""

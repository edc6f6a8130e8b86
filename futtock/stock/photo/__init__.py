"""Slabs by photograph: cards found, perspective taken out, outline, grain and flaws proposed.

Nothing here is decided silently: the outline may be corrected, flaws are proposals, and what
could not be told apart is said.
"""

"""Does every printed figure follow from the journal's bytes? Counted again here, sharing no code with the counts.

Nothing below imports ``qc.store``, ``qc.reports`` or ``qc.stats``, except what plays and serves a plant
(`served.py`); the definitions are those of README, the glossary and the words on the pages themselves.
"""

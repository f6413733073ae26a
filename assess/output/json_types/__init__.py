"""The shape of every answer of ``--json``: what the JSON Schemas are made from.

Money is in the currency of the workshop profile, hours are bench hours, ``minutes`` are minutes
of looking, chances and shares run from 0 to 1. Ids are full ids. Scopes and verdicts are in the
words of the trade.
"""

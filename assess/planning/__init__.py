"""Findings to an ordered, priced and dated plan."""

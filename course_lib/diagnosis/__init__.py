"""Odds over lives: how likely each cause is, what to inspect next, whether a case is fair."""

"""Answers to outcomes, classes and grades."""

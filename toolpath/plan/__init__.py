"""Cuts turned into moves."""

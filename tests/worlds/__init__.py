"""Worlds of invented cars, written independently of each other, to try the judgement on cars it was not set on."""

"""Worlds of invented cars, written apart from each other, to try the judgement on cars it was not set on."""

"""Why there is no plan, by name. Imports nothing, so that whoever only tells of it loads no solver."""

from __future__ import annotations


class NoPlan(Exception):
    """No plan keeps every rule, or none was ready in the time that the caller allowed; the message says what to do."""


class Contradiction(Exception):
    """Two pins, or a pin and a fact of the season, that can't both hold; the message names them."""

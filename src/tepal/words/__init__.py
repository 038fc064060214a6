"""Values to words: the message catalogue, units for people, dates, chances.

Floor 0. Every sentence that a person reads goes through a `Words`; figures in JSON do not.
"""

from tepal.words._words import Units, Words, message

__all__ = ["Units", "Words", "message"]

"""A line as it was heard, read as records: the grammar is made from what each kind declares."""

from layers.heard.grammar import Grammar
from layers.heard.line import hear
from layers.heard.names import Around, around
from layers.heard.result import Ask, Hearing, Understood

__all__ = ["Around", "Ask", "Grammar", "Hearing", "Understood", "around", "hear"]

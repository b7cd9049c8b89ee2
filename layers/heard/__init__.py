"""A line as it was heard, read as records: the grammar is made from what each kind declares."""

from layers.heard.grammar import Grammar
from layers.heard.line import hear
from layers.heard.names import LineContext, around
from layers.heard.result import Ask, HeardLine, Understood

__all__ = ["Ask", "Grammar", "HeardLine", "LineContext", "Understood", "around", "hear"]

"""The contract of a layer: what it reads, computes, draws, says and answers.

Every layer package builds one `Layer` value named ``LAYER`` in its ``__init__.py``; the
catalogue lists them, and is the only list. The functions are pure: the time and what other
layers know come in as arguments, and randomness comes from a seed that is part of the result.
"""

from layers.contract.declared import Answering, OwnStyle, Page
from layers.contract.feed import Feed, Follower, Origin, Reading
from layers.contract.layer import Layer, Others, Shown, Unavailable
from layers.contract.moment import Moment, View

__all__ = [
    "Answering",
    "Feed",
    "Follower",
    "Layer",
    "Moment",
    "Origin",
    "Others",
    "OwnStyle",
    "Page",
    "Reading",
    "Shown",
    "Unavailable",
    "View",
]

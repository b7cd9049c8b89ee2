"""What a release sees of the search: nothing, where her place is withheld.

A report of a search area, an order to a searcher and a depth are her place too.
"""

from __future__ import annotations

from layers.journal.releases.rules import PLACE, Rule

RULES: dict[str, Rule] = dict.fromkeys(
    (
        "datum.lkp",
        "datum.intended_movement",
        "datum.bearing",
        "datum.range",
        "datum.time_difference",
        "datum.sighting",
        "datum.heard",
        "datum.not_heard",
        "datum.loss_time",
        "datum.wrong_chances",
        "datum.search_sent",
        "datum.negative_search",
        "datum.wreck",
        "datum.contact",
        "datum.weighting",
        "datum.object",
        "datum.object_found",
        "datum.search_suspended",
        "datum.objects_joined",
        "datum.searcher",
        "datum.localisation_limit",
        "datum.depth_limits",
        "datum.not_heard",
        "datum.loss_time",
        "datum.wrong_chances",
    ),
    PLACE,
)

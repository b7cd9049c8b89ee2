"""The records that the datum layer owns."""

from __future__ import annotations

from layers.datum import model
from layers.datum.adrift import objects, told
from layers.datum.search import model as search
from layers.journal.kinds import Kind

PLAN_S = 14 * 86_400.0  # a plan lies ahead

KINDS: tuple[Kind, ...] = (
    Kind(name="datum.lkp", title="last known position", model=model.LastKnownPosition),
    Kind(
        name="datum.intended_movement",
        title="intended movement",
        model=model.IntendedMovement,
        future_s=PLAN_S,
    ),
    Kind(name="datum.bearing", title="bearing", model=model.Bearing),
    Kind(name="datum.range", title="range", model=model.Range),
    Kind(name="datum.time_difference", title="time difference", model=model.TimeDifference),
    Kind(name="datum.sighting", title="sighting", model=model.Sighting, ask=objects.ask_name),
    Kind(name="datum.heard", title="heard", model=model.Heard),
    Kind(name="datum.not_heard", title="listened, nothing heard", model=model.NotHeard),
    Kind(name="datum.loss_time", title="time of loss", model=model.LossTime),
    Kind(
        name="datum.negative_search",
        title="search, nothing seen",
        model=search.NegativeSearch,
        ask=objects.ask_name,
    ),
    Kind(
        name="datum.search_sent",
        title="search plan sent",
        model=search.SearchSent,
        future_s=PLAN_S,
    ),
    Kind(name="datum.wreck", title="charted wreck", model=search.Wreck),
    Kind(name="datum.contact", title="contact on the bottom", model=search.Contact),
    Kind(name="datum.weighting", title="weight of a report", model=search.Weighting),
    Kind(name="datum.wrong_chances", title="what grades mean", model=model.WrongChances),
    Kind(
        name="datum.object",
        title="object of search",
        model=search.SearchObject,
        refuse=objects.refuse_type,
        ask=objects.ask_name,
    ),
    Kind(
        name="datum.object_found",
        title="object found",
        model=told.ObjectFound,
        ask=objects.ask_found,
    ),
    Kind(
        name="datum.search_suspended",
        title="search suspended",
        model=told.SearchSuspended,
        ask=objects.ask_name,
    ),
    Kind(
        name="datum.objects_joined",
        title="two objects are one",
        model=told.ObjectsJoined,
        refuse=objects.refuse_joined,
        ask=objects.ask_name,
    ),
    Kind(
        name="datum.searcher",
        title="searcher",
        model=search.Searcher,
        future_s=PLAN_S,
        ask=objects.ask_name,
    ),
    Kind(
        name="datum.localisation_limit",
        title="localisation limit",
        model=search.LocalisationLimit,
    ),
    Kind(name="datum.depth_limits", title="depth limits", model=model.DepthLimits),
)

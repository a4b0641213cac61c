"""Reading the bank: one function for each thing a screen or a document shows, returning records."""

from sporebank.bank.queries.agenda import crossing, cull_count, green_expiring, tests_due, waiting_requests
from sporebank.bank.queries.batches import batch, batch_vials, batches, clone, clone_by_code, clone_codes, clones_of
from sporebank.bank.queries.culling import past_viability
from sporebank.bank.queries.evidence import VialCase, case, cases, figured_until, tests_of
from sporebank.bank.queries.exchange import (
    candidates,
    clone_spare,
    contact,
    contacts,
    request,
    request_by_parcel,
    requests,
    reserved,
)
from sporebank.bank.queries.history import events, events_of_vial
from sporebank.bank.queries.names import old_names, taxa, taxon, taxon_named
from sporebank.bank.queries.places import box_vials, conditions, free_slots, place, place_id_of_code, places, subtree
from sporebank.bank.queries.sowings import pot_sowing, rooms, sowing, sowings, sown_that_day
from sporebank.bank.queries.vials import (
    in_walking_order,
    ledger,
    stays,
    vial_counts,
    vial_id_of_code,
    vial_ids,
    vial_row,
    vial_years,
    vials,
    vials_by_id,
)

__all__ = [
    "VialCase",
    "batch",
    "batch_vials",
    "batches",
    "box_vials",
    "candidates",
    "case",
    "cases",
    "clone",
    "clone_by_code",
    "clone_codes",
    "clone_spare",
    "clones_of",
    "conditions",
    "contact",
    "contacts",
    "crossing",
    "cull_count",
    "events",
    "events_of_vial",
    "figured_until",
    "free_slots",
    "green_expiring",
    "in_walking_order",
    "ledger",
    "old_names",
    "past_viability",
    "place",
    "place_id_of_code",
    "places",
    "pot_sowing",
    "request",
    "request_by_parcel",
    "requests",
    "reserved",
    "rooms",
    "sowing",
    "sowings",
    "sown_that_day",
    "stays",
    "subtree",
    "taxa",
    "taxon",
    "taxon_named",
    "tests_due",
    "tests_of",
    "vial_counts",
    "vial_id_of_code",
    "vial_ids",
    "vial_row",
    "vial_years",
    "vials",
    "vials_by_id",
    "waiting_requests",
]

"""The tables of the current schema as peewee sees them.

No table is bound to a database: every query names the one it runs on (`.execute(bank.database)`), so several banks can
be open in one process. The file's own rules (checks, triggers, indexes) stand in `upgrades/`, where they are frozen; a
test holds the two against each other.
"""

from __future__ import annotations

from peewee import AutoField, BlobField, FloatField, IntegerField, Model, TextField


class Meta(Model):
    """What the bank is: name, tag, day of its making."""

    key = TextField(primary_key=True)
    value = TextField()


class Setting(Model):
    """The keeper's settings: one row, all that differ from the defaults as JSON."""

    id = AutoField()
    value = TextField()


class Serial(Model):
    """The last serial given out per kind of code."""

    kind = TextField(primary_key=True)
    last = IntegerField()


class Event(Model):
    """A deed; `of_event` is the deed that an undo or redo is about."""

    id = AutoField()
    at = TextField()
    by = TextField()
    title = TextField()
    kind = TextField()
    of_event = IntegerField(null=True)


class Entry(Model):
    """One row that a deed wrote: `before` is empty for a new row, both are JSON of the columns set."""

    id = AutoField()
    event_id = IntegerField()
    kind = TextField()
    row_id = IntegerField()
    before = TextField(null=True)
    after = TextField(null=True)


class Taxon(Model):
    """A name; `name` is its canonical text."""

    id = AutoField()
    name = TextField()
    sort_key = TextField()
    family = TextField(default="")
    spore_class = TextField()
    verified = IntegerField(default=0)
    old_name = TextField(default="")
    invasive_note = TextField(default="")
    void = IntegerField(default=0)


class Contact(Model):
    """Somebody who gives or asks."""

    id = AutoField()
    name = TextField()
    organisation = TextField(default="")
    address = TextField(default="")
    country = TextField(default="")
    email = TextField(default="")
    note = TextField(default="")
    void = IntegerField(default=0)
    donor_code = TextField(default="")
    forgotten_on = TextField(null=True)


class Clone(Model):
    """One source plant."""

    id = AutoField()
    code = TextField()
    sort_key = TextField()
    taxon_id = IntegerField()
    source = TextField()
    origin = TextField(default="")
    acquired = TextField(null=True)
    acquired_from = TextField(default="")
    permission = TextField()
    permit_note = TextField(default="")
    network_number = TextField(default="")
    received_as = TextField(default="")
    parent_id = IntegerField(null=True)
    note = TextField(default="")
    void = IntegerField(default=0)
    country = TextField(default="")


class Batch(Model):
    """The spore of one clone, cleaned together."""

    id = AutoField()
    code = TextField()
    clone_id = IntegerField()
    collected = TextField()
    cleaned_on = TextField(null=True)
    fronds = IntegerField(null=True)
    cleaning = TextField()
    screen_um = IntegerField(null=True)
    minutes = IntegerField(null=True)
    purity = IntegerField(null=True)
    purity_basis = TextField()
    amount_basis = TextField()
    amount_said = TextField(default="")
    spore_class = TextField()
    note = TextField(default="")
    before = TextField(default="in a room")
    void = IntegerField(default=0)


class Place(Model):
    """A node of the place tree; `path` and `path_key` are kept by `bank/paths.py`."""

    id = AutoField()
    code = TextField()
    parent_id = IntegerField(null=True)
    kind = TextField()
    name = TextField()
    temperature = FloatField(null=True)
    humidity = FloatField(null=True)
    rows = IntegerField(default=0)
    columns = IntegerField(default=0)
    path = TextField()
    path_key = TextField()
    void = IntegerField(default=0)


class Vial(Model):
    """A container; `left`, `place_id` and `slot` are kept by triggers from the ledger and the stays."""

    id = AutoField()
    code = TextField()
    batch_id = IntegerField()
    number = IntegerField()
    left = IntegerField(default=0)
    place_id = IntegerField(null=True)
    slot = IntegerField(null=True)
    culled_on = TextField(null=True)
    cull_reason = TextField(default="")
    note = TextField(default="")
    void = IntegerField(default=0)


class Movement(Model):
    """One line of the ledger; append-only."""

    id = AutoField()
    event_id = IntegerField()
    vial_id = IntegerField()
    on_day = TextField()
    micrograms = IntegerField()
    reason = TextField()
    basis = TextField()
    note = TextField(default="")
    voids = IntegerField(null=True)


class Stay(Model):
    """A vial in a place from a day on; append-only."""

    id = AutoField()
    event_id = IntegerField()
    vial_id = IntegerField()
    since = TextField()
    place_id = IntegerField(null=True)
    slot = IntegerField(null=True)
    temperature = FloatField(null=True)
    humidity = FloatField(null=True)
    voids = IntegerField(null=True)


class Mishap(Model):
    """Something that befell a vial."""

    id = AutoField()
    vial_id = IntegerField()
    on_day = TextField()
    kind = TextField()
    note = TextField(default="")
    void = IntegerField(default=0)


class Test(Model):
    """A germination test."""

    id = AutoField()
    batch_id = IntegerField()
    vial_id = IntegerField(null=True)
    sown_on = TextField()
    counted_on = TextField()
    medium = TextField(default="")
    temperature = FloatField(null=True)
    light = TextField(default="")
    note = TextField(default="")
    left_out = TextField(default="")
    void = IntegerField(default=0)


class Replicate(Model):
    """One count of a test."""

    id = AutoField()
    test_id = IntegerField()
    number = IntegerField()
    sown = IntegerField()
    germinated = IntegerField()
    void = IntegerField(default=0)


class Sowing(Model):
    """One session of sowing one batch in one room on one day."""

    id = AutoField()
    code = TextField()
    vial_id = IntegerField()
    room = TextField()
    sown_on = TextField()
    micrograms = IntegerField()
    note = TextField(default="")
    void = IntegerField(default=0)


class Pot(Model):
    """A pot of a sowing."""

    id = AutoField()
    code = TextField()
    sowing_id = IntegerField()
    number = IntegerField()
    void = IntegerField(default=0)


class Request(Model):
    """Somebody's wishes; in an exchange `place` is where they stand in the stored order."""

    id = AutoField()
    contact_id = IntegerField()
    received_on = TextField()
    state = TextField()
    note = TextField(default="")
    void = IntegerField(default=0)
    exchange_id = IntegerField(null=True)
    place = IntegerField(null=True)
    helper = IntegerField(default=0)


class Line(Model):
    """One wish: a taxon or a clone, so many packets of so many micrograms.

    In an exchange it is for a line of its list: a first choice, or an alternative, perhaps to one wish alone.
    `allotted` is how many packets the sharing out gave it.
    """

    id = AutoField()
    request_id = IntegerField()
    rank = IntegerField()
    taxon_id = IntegerField(null=True)
    clone_id = IntegerField(null=True)
    packets = IntegerField()
    packet_ug = IntegerField()
    unmet = TextField(default="")
    void = IntegerField(default=0)
    offering_id = IntegerField(null=True)
    alternative = IntegerField(default=0)
    stands_for = IntegerField(null=True)
    allotted = IntegerField(null=True)


class Parcel(Model):
    """What goes in one envelope.

    `gap` is why it was closed incomplete, `fate` is empty unless it was lost or came back.
    """

    id = AutoField()
    code = TextField()
    request_id = IntegerField()
    dispatched_on = TextField(null=True)
    void = IntegerField(default=0)
    closed_on = TextField(null=True)
    gap = TextField(default="")
    fate = TextField(default="")
    fate_on = TextField(null=True)


class Packet(Model):
    """One unit to be given, held back in its vial until its parcel is dispatched."""

    id = AutoField()
    line_id = IntegerField()
    parcel_id = IntegerField()
    vial_id = IntegerField()
    micrograms = IntegerField()
    void = IntegerField(default=0)
    code = TextField(default="")
    packed = IntegerField(default=0)


class Keeping(Model):
    """What the keeper knows better of how spore keeps; `what` names a number of the storage table."""

    id = AutoField()
    what = TextField()
    value = FloatField()
    spread = FloatField(null=True)
    void = IntegerField(default=0)


class Layout(Model):
    """A layout of the keeper's own; `value` is JSON."""

    id = AutoField()
    name = TextField()
    kind = TextField()
    value = TextField()
    void = IntegerField(default=0)


class Sheet(Model):
    """A sheet of the keeper's own; `value` is JSON."""

    id = AutoField()
    name = TextField()
    value = TextField()
    void = IntegerField(default=0)


class Printer(Model):
    """How a printer has to be put right: millimetres and scale, each across and down, and its dots an inch."""

    id = AutoField()
    name = TextField()
    across_mm = FloatField(default=0.0)
    down_mm = FloatField(default=0.0)
    scale_x = FloatField(default=1.0)
    scale_y = FloatField(default=1.0)
    dpi = IntegerField(default=600)
    void = IntegerField(default=0)


class Printing(Model):
    """Labels printed together; `next_cell` is the first free label of the last sheet, 0 where it was used up."""

    id = AutoField()
    on_day = TextField()
    layout = TextField()
    sheet = TextField()
    first_cell = IntegerField(default=0)
    next_cell = IntegerField(default=0)
    copies = IntegerField(default=1)
    void = IntegerField(default=0)


class Label(Model):
    """A label of a thing that waits to be printed, or was printed."""

    id = AutoField()
    kind = TextField()
    target_id = IntegerField()
    printing_id = IntegerField(null=True)
    void = IntegerField(default=0)


class Look(Model):
    """A dated observation of a pot; `count` is how many sporelings there were, where they were counted."""

    id = AutoField()
    pot_id = IntegerField()
    on_day = TextField()
    what = TextField()
    count = IntegerField(null=True)
    note = TextField(default="")
    void = IntegerField(default=0)


class Exchange(Model):
    """A round or a standing list; `rules` is JSON."""

    id = AutoField()
    name = TextField()
    shape = TextField()
    state = TextField()
    opens = TextField()
    closes = TextField(null=True)
    ships = TextField()
    rules = TextField()
    note = TextField(default="")
    void = IntegerField(default=0)


class Offering(Model):
    """A line of an exchange's list; `number` is empty until all is in."""

    id = AutoField()
    exchange_id = IntegerField()
    number = IntegerField(null=True)
    taxon_id = IntegerField()
    packet_ug = IntegerField()
    packets = IntegerField()
    limited = IntegerField(default=0)
    note = TextField(default="")
    void = IntegerField(default=0)


class Part(Model):
    """A clone whose spore is in a line of the list."""

    id = AutoField()
    offering_id = IntegerField()
    clone_id = IntegerField()
    void = IntegerField(default=0)


class Giving(Model):
    """How a taxon or a clone is given away: own need, size of a packet, how young it must be, held back or released."""

    id = AutoField()
    taxon_id = IntegerField(null=True)
    clone_id = IntegerField(null=True)
    own_ug = IntegerField(null=True)
    packet_ug = IntegerField(null=True)
    young_days = IntegerField(null=True)
    held = TextField(default="")
    void = IntegerField(default=0)


class Donation(Model):
    """What somebody gave to an exchange; `packets` is what it is worth, `batch_id` what became of it."""

    id = AutoField()
    exchange_id = IntegerField()
    contact_id = IntegerField()
    batch_id = IntegerField(null=True)
    received_on = TextField()
    received_as = TextField()
    packets = IntegerField()
    resealed = IntegerField(default=0)
    note = TextField(default="")
    void = IntegerField(default=0)


class Pin(Model):
    """The keeper's hand in a sharing out: a line pinned to a request, or barred from it."""

    id = AutoField()
    request_id = IntegerField()
    offering_id = IntegerField()
    kind = TextField()
    void = IntegerField(default=0)


class Permit(Model):
    """A paper that somebody holds: an import permit or an agreement; `labels_left` are one-use labels."""

    id = AutoField()
    contact_id = IntegerField()
    kind = TextField()
    number = TextField()
    expires = TextField(null=True)
    labels_left = IntegerField(null=True)
    note = TextField(default="")
    void = IntegerField(default=0)


class Heed(Model):
    """A caution about a parcel, acknowledged with a note or the number of a paper."""

    id = AutoField()
    parcel_id = IntegerField()
    caution = TextField()
    note = TextField()
    void = IntegerField(default=0)


class Credit(Model):
    """Small money: what a person paid (+), or was charged (-), in hundredths."""

    id = AutoField()
    contact_id = IntegerField()
    request_id = IntegerField(null=True)
    on_day = TextField()
    cents = IntegerField()
    note = TextField(default="")
    void = IntegerField(default=0)


class Outcome(Model):
    """What became of a packet, as told by who got it; empty is not told."""

    id = AutoField()
    packet_id = IntegerField()
    on_day = TextField()
    germinated = IntegerField(null=True)
    true_name = IntegerField(null=True)
    note = TextField(default="")
    void = IntegerField(default=0)


class Complaint(Model):
    """A batch said to be misnamed, to hold a stranger or to be dead; `settled` says how it ended."""

    id = AutoField()
    batch_id = IntegerField()
    packet_id = IntegerField(null=True)
    on_day = TextField()
    kind = TextField()
    note = TextField(default="")
    settled = TextField(default="")
    void = IntegerField(default=0)


class Receipt(Model):
    """A parcel of another bank that was taken in."""

    id = AutoField()
    parcel = TextField()
    bank = TextField()
    checksum = TextField()
    received_on = TextField()
    contact_id = IntegerField(null=True)
    void = IntegerField(default=0)


class Alias(Model):
    """The code that a thing had in the bank it came from."""

    id = AutoField()
    receipt_id = IntegerField()
    kind = TextField()
    row_id = IntegerField()
    code = TextField()
    void = IntegerField(default=0)


class Outlook(Model):
    """What is foreseen of vials of a batch that are alike, as last computed; derived.

    `ends` holds the probits of low, middle, high and the chance below on `first_day` and on `last_day` (ordinals):
    eight numbers between which the days that come are read, until they are worked out anew. `tested` is when the last
    test that speaks for the vials was counted; `unsettled` says what befell them since.
    """

    id = AutoField()
    batch_id = IntegerField()
    on_day = TextField()
    state = TextField()
    low = FloatField(null=True)
    middle = FloatField(null=True)
    high = FloatField(null=True)
    chance_below = FloatField(null=True)
    crosses_earliest = TextField(null=True)
    crosses = TextField(null=True)
    crosses_latest = TextField(null=True)
    next_test = TextField(null=True)
    first_day = IntegerField(null=True)
    last_day = IntegerField(null=True)
    ends = BlobField(null=True)
    tested = TextField(null=True)
    unsettled = TextField(default="")


class Figure(Model):
    """What follows for a vial from its outlook, as last computed; derived.

    `clone_good` is what is left in the vials of its clone that are alive enough, in micrograms.
    """

    vial_id = IntegerField(primary_key=True)
    outlook_id = IntegerField()
    surplus = IntegerField(default=0)
    advice = TextField(default="keep")
    clone_good = IntegerField(default=0)


ALL: tuple[type[Model], ...] = (
    Meta, Setting, Serial, Event, Entry, Taxon, Contact, Clone, Batch, Place, Vial, Movement, Stay, Mishap, Test,
    Replicate, Sowing, Pot, Request, Line, Parcel, Packet, Keeping, Layout, Sheet, Printer, Printing, Label,
    Look, Exchange, Offering, Part, Giving, Donation, Pin, Permit, Heed, Credit, Outcome, Complaint, Receipt, Alias,
    Outlook, Figure,
)  # fmt: skip

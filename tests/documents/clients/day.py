"""Each role's day at the store ford, through the client that openapi-python-client made.

Standard input has one object of JSON: the server's address under `url` and a token for each role.
Monday night was counted: ten bags in the dry store, nothing in the cold room. It is Tuesday evening.
The amounts are an invented worked example.
"""

import json
import sys
from datetime import date
from uuid import uuid4

from parings_client import AuthenticatedClient
from parings_client.api.entries import add as add_entries
from parings_client.api.nights import confirm_night, submit_night
from parings_client.api.pars import publish_par_set, save_par_set
from parings_client.api.reference import change, read_document
from parings_client.api.review import read_review
from parings_client.api.rollups import find_rollup
from parings_client.api.stores import read_sheet
from parings_client.api.till import feed
from parings_client.models import (
    AnswerWord,
    CheckAnswerBody,
    ConfirmationBody,
    CountLineBody,
    DayBody,
    DocumentChangeBody,
    DraftBody,
    FindRollupBy,
    ItemBody,
    NewEntriesBody,
    NightBody,
    ParLineBody,
    ParSetBody,
    PublishBody,
    SaleBody,
    TillBatchBody,
    TypedBody,
    WasteEntry,
    WasteEntryKind,
)

MONDAY, TUESDAY, WEDNESDAY = (date(2026, 6, day) for day in (15, 16, 17))


def key() -> str:
    return str(uuid4())


def kg(value: str) -> TypedBody:
    return TypedBody(value=value, unit="kg")


def equal(found, expected):
    assert found == expected, f"{found!r} is not {expected!r}"


def done(response, status: int):
    """What an answer holds, which must have this status."""
    assert response.status_code == status, f"{response.status_code}: {response.content!r}"
    return response.parsed


def crew(client):
    """Writes down that 0.9 kg of trimmed potatoes were thrown away: 1 kg of bought ones."""
    wasted = WasteEntry(
        kind=WasteEntryKind.WASTE,
        id=uuid4(),
        item="potato",
        stage="trim",
        reason="expired",
        quantity=kg("0.9"),
    )
    body = NewEntriesBody(business_date=TUESDAY, entries=[wasted])
    answer = add_entries.sync_detailed("ford", client=client, body=body, idempotency_key=key())
    (recorded,) = done(answer, 201).entries
    equal(recorded.entry, wasted)
    equal((recorded.amount.value, recorded.amount.unit), ("1", "kg"))


def till(client):
    """Sends sixty portions that it knows, and three under a code that nobody mapped."""
    sales = [SaleBody(code="1001", units=60, net="180"), SaleBody(code="77", units=3, net="9")]
    body = TillBatchBody(batch_id="t1-1", business_date=TUESDAY, sales=sales)
    accepted = done(feed.sync_detailed("ford", client=client, body=body), 201)
    equal(accepted.sales, 2)
    equal([(unknown.code, unknown.units) for unknown in accepted.unmapped], [("77", 3)])


def manager(client):
    """Reads the sheet, types kilograms for bags, is asked, and takes the other reading."""
    sheet = done(read_sheet.sync_detailed("ford", TUESDAY, client=client), 200)
    equal([(line.item, line.place) for line in sheet.lines],
          [("potato", "cold-room"), ("potato", "dry-store")])

    lines = [
        CountLineBody(item="potato", place="dry-store", quantity=kg("9")),
        CountLineBody(item="potato", place="cold-room", stage="trim", quantity=kg("0")),
    ]
    body = NightBody(submission_id=uuid4(), complete=True, lines=lines)
    answer = submit_night.sync_detailed("ford", TUESDAY, client=client, body=body, if_none_match="*")
    held = done(answer, 202).held
    equal(held.lines, lines)
    (check,) = held.checks
    equal((check.id, check.at), ("pack_slip:potato@dry-store", ["/lines/0"]))
    bags = [reading.quantity.unit for reading in check.readings].index("bag")

    answers = [CheckAnswerBody(check=check.id, answer=AnswerWord.OTHER_READING, reading=bags)]
    body = ConfirmationBody(revision=held.revision, answers=answers)
    answer = confirm_night.sync_detailed(
        "ford", TUESDAY, client=client, body=body, idempotency_key=key()
    )
    receipt = done(answer, 200)
    assert not receipt.held
    equal(receipt.count.revision, held.revision + 1)
    (potato,) = receipt.items
    usage = potato.usage
    equal(usage.since, MONDAY)
    # Ten bags of 22.68 kg, then nine.
    equal([usage.opening.value, usage.closing.value, usage.used.value], ["226.8", "204.12", "22.68"])
    # 60 portions of 200 g trimmed, of which the standard leaves 0.90.
    equal(usage.expected.value, "13.333")
    equal(potato.wasted.value, "1")
    (reason,) = receipt.waste
    equal((reason.reason, [line.item for line in reason.lines]), ("expired", ["potato"]))


def roll_up(client, scope: str):
    """The two nights of a scope, and of the one store in it."""
    answer = find_rollup.sync_detailed(
        client=client, scope=scope, from_=MONDAY, to=TUESDAY, by=FindRollupBy.NONE, children=True
    )
    whole, ford = done(answer, 200).rows
    equal(ford.child, "ford")
    for row in (whole, ford):
        equal((row.nights.expected, row.nights.counted), (2, 2))
        (potato,) = row.items
        equal((potato.used.amount.value, potato.used.nights), ("22.68", 1))
        # What was used less what sales should have used.
        equal(potato.variance.amount.value, "9.347")
        (reason,) = row.waste_by_reason
        equal((reason.reason, reason.safety), ("expired", False))


def coach(client):
    """Reads the district's roll-up and its review."""
    roll_up(client, "district:upper")
    review = done(read_review.sync_detailed("upper", client=client), 200)
    equal([listed.store for listed in review.stores], ["ford"])


def owner(client):
    """Reads the roll-up of their own stores."""
    roll_up(client, "owner:brook")


def office(client):
    """Gives an item another title from tomorrow on, and publishes a set of pars."""
    answer = read_document.sync_detailed("items", "potato", client=client, on=WEDNESDAY)
    document = done(answer, 200).document
    assert isinstance(document, ItemBody), document
    shelves = len(document.shelves)
    document.title = "Potatoes for frying"
    body = DocumentChangeBody(submission_id=uuid4(), valid_from=WEDNESDAY, document=document)
    etag = answer.headers["ETag"]
    answer = change.sync_detailed("items", "potato", client=client, body=body, if_match=etag)
    changed = done(answer, 200)
    equal((changed.document.title, len(changed.document.shelves)), ("Potatoes for frying", shelves))

    line = ParLineBody(item="potato", stage="trim", quantity=kg("30"), weekdays=list(DayBody),
                       dayparts=["dinner"])
    draft = DraftBody(submission_id=uuid4(), document=ParSetBody(title="Summer", lines=[line]))
    answer = save_par_set.sync_detailed("summer", client=client, body=draft, if_none_match="*")
    equal(done(answer, 201).document.lines, [line])
    body = PublishBody(from_=WEDNESDAY, reason="Longer evenings")
    answer = publish_par_set.sync_detailed(
        "summer", client=client, body=body, idempotency_key=key(), if_match=answer.headers["ETag"]
    )
    published = done(answer, 201)
    equal((published.set_, published.from_, published.then), ("summer", WEDNESDAY, []))


def main():
    given = json.load(sys.stdin)
    for day in (crew, till, manager, coach, owner, office):
        with AuthenticatedClient(given["url"], given[day.__name__]) as client:
            day(client)
        print(f"{day.__name__}: done")


main()

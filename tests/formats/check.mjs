// check: runs outside checkers over every file of a folder that relict wrote.
// Usage: node check.mjs FOLDER. Prints a table: format, files, errors; exits 1 when there are errors.
import fs from "node:fs";
import path from "node:path";
import crypto from "node:crypto";
import { createRequire } from "node:module";
const require = createRequire(import.meta.url);
const validator = require("gltf-validator");
const Ajv = require("ajv/dist/2020").default;
const jsonld = require("jsonld");
const ICAL = require("ical.js").default ?? require("ical.js");
const { Helper } = require("dxf");

const root = process.argv[2];
const table = new Map();
const count = (format, name, errors) => {
    const row = table.get(format) ?? { files: 0, errors: 0 };
    row.files++;
    row.errors += errors.length;
    table.set(format, row);
    for (const e of errors) console.error(`${name}: ${e}`);
};

function* walk(folder) {
    for (const entry of fs.readdirSync(folder, { withFileTypes: true })) {
        const name = path.join(folder, entry.name);
        if (entry.isDirectory()) yield* walk(name);
        else yield name;
    }
}

// RFC 7946, as far as it is used here; `relict:frame` is a foreign member (section 6.1).
const position = { type: "array", items: { type: "number" }, minItems: 2, maxItems: 3 };
const geojson = {
    type: "object",
    required: ["type", "features", "relict:frame"],
    not: { required: ["crs"] },
    properties: {
        type: { const: "FeatureCollection" },
        "relict:frame": {
            type: "object",
            required: ["unit"],
            properties: { unit: { const: "mm" } },
        },
        features: {
            type: "array",
            items: {
                type: "object",
                required: ["type", "geometry", "properties"],
                properties: {
                    type: { const: "Feature" },
                    id: { type: ["string", "number"] },
                    properties: { type: ["object", "null"] },
                    geometry: {
                        oneOf: [
                            {
                                properties: { type: { const: "Point" }, coordinates: position },
                                required: ["type", "coordinates"],
                            },
                            {
                                properties: {
                                    type: { const: "LineString" },
                                    coordinates: { type: "array", minItems: 2, items: position },
                                },
                                required: ["type", "coordinates"],
                            },
                            {
                                properties: {
                                    type: { const: "Polygon" },
                                    coordinates: {
                                        type: "array",
                                        minItems: 1,
                                        items: { type: "array", minItems: 4, items: position },
                                    },
                                },
                                required: ["type", "coordinates"],
                            },
                        ],
                    },
                },
            },
        },
    },
};

// RO-Crate 1.1, "RO-Crate Metadata Document" and "Root Data Entity".
const crate = {
    type: "object",
    required: ["@context", "@graph"],
    properties: {
        "@context": { const: "https://w3id.org/ro/crate/1.1/context" },
        "@graph": {
            type: "array",
            items: { type: "object", required: ["@id", "@type"] },
            allOf: [
                {
                    contains: {
                        type: "object",
                        required: ["conformsTo", "about"],
                        properties: {
                            "@id": { const: "ro-crate-metadata.json" },
                            "@type": { const: "CreativeWork" },
                        },
                    },
                },
                {
                    contains: {
                        type: "object",
                        required: ["name", "description", "datePublished", "license", "hasPart"],
                        properties: { "@id": { const: "./" }, "@type": { const: "Dataset" } },
                    },
                },
            ],
        },
    },
};

// Frictionless Data Package, the members used here.
const datapackage = {
    type: "object",
    required: ["name", "resources"],
    properties: {
        name: { type: "string", pattern: "^[a-z0-9._-]+$" },
        resources: {
            type: "array",
            items: {
                type: "object",
                required: ["name", "path", "schema"],
                properties: {
                    path: { type: "string", not: { pattern: "(^/|\\.\\.)" } },
                    hash: { type: "string", pattern: "^sha256:[0-9a-f]{64}$" },
                    schema: {
                        type: "object",
                        required: ["fields"],
                        properties: {
                            fields: {
                                type: "array",
                                items: { type: "object", required: ["name", "type"] },
                            },
                        },
                    },
                },
            },
        },
    },
};

const ajv = new Ajv({ allErrors: true, strict: false });
const schemas = {
    geojson: ajv.compile(geojson),
    crate: ajv.compile(crate),
    datapackage: ajv.compile(datapackage),
};
const against = (schema, value) =>
    schemas[schema](value) ? [] : schemas[schema].errors.map((e) => `${e.instancePath} ${e.message}`);

function rings(value) {
    const errors = [];
    for (const f of value.features ?? []) {
        if (f.geometry?.type !== "Polygon") continue;
        f.geometry.coordinates.forEach((ring, i) => {
            const [a, b] = [ring[0], ring[ring.length - 1]];
            if (a[0] !== b[0] || a[1] !== b[1]) errors.push(`${f.id}: ring is not closed`);
            let area = 0;
            for (let k = 0; k + 1 < ring.length; k++)
                area += ring[k][0] * ring[k + 1][1] - ring[k + 1][0] * ring[k][1];
            if (i === 0 ? area <= 0 : area >= 0) errors.push(`${f.id}: ring runs the wrong way`);
        });
    }
    return errors;
}

// A strict reader of RFC 4180: CRLF, quotes doubled, every row as long as the heading.
function csv(text) {
    const rows = [];
    let row = [], cell = "", quoted = false, closed = false;
    for (let i = 0; i < text.length; i++) {
        const c = text[i];
        if (quoted) {
            if (c === '"' && text[i + 1] === '"') (cell += '"'), i++;
            else if (c === '"') (quoted = false), (closed = true);
            else cell += c;
        } else if (c === '"' && cell === "" && !closed) quoted = true;
        else if (c === ",") row.push(cell), (cell = ""), (closed = false);
        else if (c === "\r" && text[i + 1] === "\n") {
            row.push(cell);
            rows.push(row);
            (row = []), (cell = ""), (closed = false), i++;
        } else if (c === '"' || c === "\r" || c === "\n" || closed) throw new Error(`stray sign at ${i}`);
        else cell += c;
    }
    if (quoted || cell || row.length) throw new Error("does not end with CRLF");
    return rows;
}

const refuse = (url) => {
    throw new Error(`would fetch ${url}`);
};

const checks = {
    ".glb": async (name) => {
        const report = await validator.validateBytes(new Uint8Array(fs.readFileSync(name)));
        const { numErrors, numWarnings } = report.issues;
        return numErrors + numWarnings ? report.issues.messages.map((m) => `${m.code} ${m.pointer}`) : [];
    },
    ".geojson": async (name) => {
        const value = JSON.parse(fs.readFileSync(name, "utf8"));
        return [...against("geojson", value), ...rings(value)];
    },
    ".jsonld": async (name) => {
        const value = JSON.parse(fs.readFileSync(name, "utf8"));
        const quads = await jsonld.toRDF(value, {
            safe: true,
            format: "application/n-quads",
            documentLoader: refuse,
        });
        return quads.length ? [] : ["no statement comes out of it"];
    },
    ".ics": async (name) => {
        const text = fs.readFileSync(name, "utf8");
        const calendar = new ICAL.Component(ICAL.parse(text));
        const errors = [];
        for (const line of text.split("\r\n"))
            if (Buffer.byteLength(line) > 75) errors.push(`line of ${Buffer.byteLength(line)} octets`);
        for (const event of calendar.getAllSubcomponents("vevent")) {
            const start = event.getFirstPropertyValue("dtstart"), end = event.getFirstPropertyValue("dtend");
            for (const key of ["uid", "dtstamp", "summary"])
                if (!event.getFirstPropertyValue(key)) errors.push(`an event without ${key}`);
            if (!start?.isDate || (end && !end.isDate)) errors.push("a time where a day should be");
            if (end && end.compare(start) <= 0) errors.push("an event that ends before it begins");
        }
        // The days of the material step's own table, when the report beside it carries one.
        const said = path.join(path.dirname(name), "argument.html");
        if (path.basename(name) === "calendar.ics" && fs.existsSync(said)) {
            const words = fs.readFileSync(said, "utf8");
            for (const event of calendar.getAllSubcomponents("vevent"))
                if (event.getFirstPropertyValue("categories") === "step" &&
                    !words.includes(event.getFirstPropertyValue("dtstart").toString()))
                    errors.push(`${event.getFirstPropertyValue("summary")} begins on a day the report does not name`);
        }
        return errors;
    },
    ".dxf": async (name) => {
        const text = fs.readFileSync(name, "utf8");
        const helper = new Helper(text);
        const { header, entities, tables } = helper.parsed;
        const errors = [];
        if (!text.includes("AC1009")) errors.push("is not R12");
        for (const layer of ["KNIFE", "AWL"]) if (!tables.layers[layer]) errors.push(`no layer ${layer}`);
        if (!entities.length) errors.push("no entity");
        for (const e of entities)
            if (!["KNIFE", "AWL"].includes(e.layer)) errors.push(`entity on layer ${e.layer}`);
        const stick = entities.find(
            (e) => e.type === "LINE" && e.layer === "AWL" && Math.abs(e.end.x - e.start.x - 100) < 1e-3);
        if (!stick) errors.push("no line of 100 mm");
        if (!header.extMin || !header.extMax) errors.push("no extents");
        return errors;
    },
    ".csv": async (name) => {
        const rows = csv(fs.readFileSync(name, "utf8"));
        return rows
            .map((r, i) => (r.length === rows[0].length ? null : `row ${i + 1} has ${r.length} cells`))
            .filter(Boolean);
    },
    ".html": async (name) => {
        const text = fs.readFileSync(name, "utf8");
        const errors = [];
        for (const [, url] of text.matchAll(/\b(?:src|href|action)\s*=\s*"([^"]*)"/g))
            if (!/^(#|data:)/.test(url)) errors.push(`would fetch ${url}`);
        for (const [, url] of text.matchAll(/url\(([^)]*)\)/g))
            if (!/^["']?(#|data:)/.test(url)) errors.push(`would fetch ${url}`);
        const ids = [...text.matchAll(/\sid="([^"]*)"/g)].map((m) => m[1]);
        const twice = ids.filter((id, i) => ids.indexOf(id) !== i);
        if (twice.length) errors.push(`ids twice: ${[...new Set(twice)].slice(0, 5).join(", ")}`);
        return errors;
    },
};

for (const name of walk(root)) {
    // what was brought in stays byte for byte as it came, and is not ours to check
    if (path.relative(root, name).startsWith("files" + path.sep)) continue;
    const base = path.basename(name), short = path.relative(root, name), end = path.extname(name);
    const run = async (format, f) => {
        try {
            count(format, short, await f());
        } catch (e) {
            count(format, short, [e.message]);
        }
    };
    if (checks[end]) await run(end.slice(1), () => checks[end](name));
    if (base === "ro-crate-metadata.json")
        await run("RO-Crate", async () => {
            const value = JSON.parse(fs.readFileSync(name, "utf8"));
            const errors = against("crate", value);
            for (const part of value["@graph"].filter((e) => e["@type"] === "File")) {
                const file = path.join(path.dirname(name), part["@id"]);
                if (!fs.existsSync(file)) errors.push(`${part["@id"]} is not there`);
                else if (crypto.createHash("sha256").update(fs.readFileSync(file)).digest("hex") !== part.sha256)
                    errors.push(`${part["@id"]} has another hash`);
            }
            return errors;
        });
    if (base === "datapackage.json")
        await run("Data Package", async () => {
            const value = JSON.parse(fs.readFileSync(name, "utf8"));
            const errors = against("datapackage", value);
            for (const r of value.resources) {
                const heading = csv(fs.readFileSync(path.join(path.dirname(name), r.path), "utf8"))[0];
                if (heading.join() !== r.schema.fields.map((f) => f.name).join())
                    errors.push(`${r.path}: columns differ from the descriptor`);
            }
            return errors;
        });
}

// By whom each format is judged. What an own rule judges says so.
const judge = {
    dxf: "dxf 5.3", glb: "gltf-validator 2.0", ics: "ical.js 2.2", jsonld: "jsonld 9, safe", geojson: "ajv, RFC 7946",
    "RO-Crate": "ajv, hashes", "Data Package": "ajv, headings", csv: "own, RFC 4180", html: "own", json: "own",
};
let bad = 0;
for (const [format, row] of [...table].sort()) {
    const by = judge[format] ? ` (${judge[format]})` : "";
    console.log(`${(format + by).padEnd(32)} ${String(row.files).padStart(4)} files ${String(row.errors).padStart(4)} errors`);
    bad += row.errors;
}
process.exit(bad ? 1 : 0);

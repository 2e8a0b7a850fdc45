// The modules that the first screen is made of are named in index.html, so that the browser fetches them
// all at once and not rank by rank as each names the next. Says which is missing there, or named in vain.
//
//   node loads.mjs FOLDER
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { parse } from "acorn";

const [, , folder] = process.argv;
const needed = new Set();
function follow(file) {
  for (const node of parse(readFileSync(join(folder, file), "utf8"), { ecmaVersion: 2023, sourceType: "module" }).body) {
    const name = node.source?.value.replace(/^\.\//, "");
    if (!name || needed.has(name)) continue;
    needed.add(name);
    follow(name);
  }
}
follow("main.js");
const named = new Set([...readFileSync(join(folder, "index.html"), "utf8").matchAll(/rel="modulepreload" href="\/([\w.]+)"/g)].map((m) => m[1]));
const faults = [...needed].filter((n) => !named.has(n)).map((n) => `${n} is not named in index.html`).concat([...named].filter((n) => !needed.has(n)).map((n) => `${n} is named in index.html and the first screen has no use for it`));
for (const f of faults) console.log(`not ok: ${f}`);
console.log(`modules of the first screen: ${needed.size} named at once, ${faults.length} faults`);
process.exit(faults.length ? 1 : 0);

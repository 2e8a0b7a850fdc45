// Words written in the code instead of in the table of the language. Reads every module of the screens
// as a syntax tree and names each text with letters in it that stands where a person would read it:
// a child of el() or svg(), a label, a title, a caption, an alternative text; and any text of two words
// or more anywhere. Words live in words_*.js only. What it finds is a fault.
//
//   node words.mjs FOLDER SOURCES     SOURCES: a text outside such a place that the program's own code has
//                                     letter for letter is one of its data (a state, a quantity), not a word
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { parse } from "acorn";

const [, , folder, sources] = process.argv;
const data = new Set(), classes = new Set();
for (const name of readdirSync(sources, { recursive: true }))
  if (/\.[ch]$/.test(name)) for (const [, text] of readFileSync(join(sources, name), "utf8").matchAll(/"((?:[^"\\\n]|\\.)*)"/g)) data.add(text);
for (const name of readdirSync(folder))
  if (name.endsWith(".css")) for (const [, word] of readFileSync(join(folder, name), "utf8").matchAll(/\.([a-z][\w-]*)/g)) classes.add(word);
// Signs of units and file types, the same in every language, and the program's own name.
const SIGNS = /\b(mm|cm|m|g|kg|N|MPa|px|kB|relict|CSV|XLSX|JSON|JPEG|PNG)\b/g;
// Where a person reads: attributes of elements, and options that name or caption something.
const READ = new Set(["aria-label", "title", "alt", "placeholder", "aria-description", "label", "words", "name", "what", "caption", "unit", "text", "summary"]);
// Attributes whose text is for the machine, though it may have spaces.
const MACHINE = new Set(["class", "style", "d", "rel", "sandbox", "viewBox", "href", "src", "kind", "transform", "points", "accept", "allow"]);
const MAKERS = new Set(["el", "svg"]), ASKERS = new Set(["say", "knows", "querySelector", "querySelectorAll", "closest", "matches", "matchMedia", "getElementById", "ask", "tell", "send", "import", "glyph", "setAttribute"]);

let faults = 0;
function check(file) {
  const source = readFileSync(join(folder, file), "utf8"), tree = parse(source, { ecmaVersion: 2023, sourceType: "module", locations: true });
  const told = new Set();
  const fault = (node, text, where) => {
    const at = `${file}:${node.loc.start.line}`;
    if (told.has(`${at}${text}`)) return;
    told.add(`${at}${text}`);
    faults++;
    console.log(`not ok: ${at}: ${JSON.stringify(text.trim())} (${where}) belongs in words_*.js`);
  };
  const letters = (s) => /\p{L}{2,}/u.test(s.replace(SIGNS, "")), phrase = (s) => /\p{L}{2,},? \p{L}{2,}/u.test(s) && !/^[\w-]*[.#[>]|^M\d|[{};<>=]/.test(s) && !data.has(s) && !s.split(" ").every((c) => classes.has(c));
  // A word with a space beside a number or a name that is put in.
  const lone = (s) => /^\p{L}{3,}[ ,.;:]|[ ,.;]\p{L}{3,}[ ,.;:]?$/u.test(s.replace(SIGNS, "")) && / /.test(s) && !/[{};<>=#[\]]|^\./.test(s) && !s.trim().split(/[ .]+/).every((c) => classes.has(c) || !c);
  // read: a person reads what is written here. Calls inside begin afresh: their arguments are theirs.
  function walk(node, read, where) {
    if (!node || typeof node.type !== "string") return;
    switch (node.type) {
      case "Literal":
        if (typeof node.value === "string" && (read ? letters(node.value) : phrase(node.value))) fault(node, node.value, where);
        return;
      case "TemplateLiteral":
        for (const q of node.quasis) if (read ? letters(q.value.cooked) : phrase(q.value.cooked) || lone(q.value.cooked)) fault(q, q.value.cooked, where);
        for (const e of node.expressions) walk(e, read, where);
        return;
      case "ConditionalExpression":
        walk(node.test, false, "");
        walk(node.consequent, read, where);
        walk(node.alternate, read, where);
        return;
      case "LogicalExpression": case "ArrayExpression":
        for (const e of node.elements || [node.left, node.right]) walk(e, read, where);
        return;
      case "BinaryExpression": {
        if (/^[!=]==?$/.test(node.operator)) { walk(node.left, false, where); walk(node.right, false, where); return; }
        const joined = node.operator === "+" && read;
        walk(node.left, joined, where);
        walk(node.right, joined, where);
        return;
      }
      case "CallExpression": {
        const name = node.callee.name || (node.callee.property && node.callee.property.name) || "";
        if (node.callee.type === "MemberExpression") walk(node.callee.object, read && ["filter", "concat", "join", "flat"].includes(name), where);
        if (ASKERS.has(name)) { for (const a of node.arguments) if (a.type !== "Literal" && a.type !== "TemplateLiteral") walk(a, false, ""); return; }
        node.arguments.forEach((a, i) => {
          if (MAKERS.has(name) && i === 1 && a.type === "ObjectExpression") attributes(a);
          else walk(a, MAKERS.has(name) ? i >= 2 : ["append", "prepend", "createTextNode", "after", "unroll", "told", "Error", "text"].includes(name) && !(name === "told" && i === 0) , name);
        });
        return;
      }
      case "NewExpression": for (const a of node.arguments) walk(a, node.callee.name === "Error", "Error"); return;
      case "ObjectExpression": attributes(node); return;
      case "AssignmentExpression": walk(node.right, node.left.type === "MemberExpression" && ["textContent", "title", "innerText", "alt"].includes(node.left.property.name), "text"); return;
      case "ImportDeclaration": case "ExportAllDeclaration": case "ImportExpression": return;
      case "ArrowFunctionExpression": walk(node.body, read && node.expression, where); return;
      default:
        for (const [k, v] of Object.entries(node)) {
          if (k === "loc") continue;
          if (Array.isArray(v)) v.forEach((x) => walk(x, false, "text of several words"));
          else if (v && typeof v.type === "string") walk(v, false, "text of several words");
        }
    }
  }
  function attributes(node) {
    for (const p of node.properties) {
      if (p.type !== "Property") { walk(p.argument, false, ""); continue; }
      const name = p.key.name ?? p.key.value;
      if (MACHINE.has(name)) { if (p.value.type !== "Literal" && p.value.type !== "TemplateLiteral" && p.value.type !== "ConditionalExpression") walk(p.value, false, ""); continue; }
      if (name === "name" && p.value.type === "Literal" && /^[a-z_]+$/.test(p.value.value)) continue; // the name of a kind or a field
      walk(p.value, READ.has(name), name);
    }
  }
  walk(tree, false, "");
}
const files = readdirSync(folder).filter((f) => f.endsWith(".js") && !f.startsWith("words"));
files.forEach(check);
console.log(`words written in the code: ${faults} in ${files.length} modules`);
process.exit(faults ? 1 : 0);

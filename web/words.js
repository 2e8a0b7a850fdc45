// What the screens say, by key, in the language of the page: `?lang=en`, else the browser's own if
// there is a table for it, else English. `?lang=test` wraps every text in marks, which proves that
// none is written elsewhere. What the program itself says (statements, errors, headings of tables)
// comes in English.
//
//   say("open.many", {n: 3})    the text with its values put in
//   knows("short.trials")       whether there is one
import { english } from "./words_en.js";

const tables = { en: english };
const asked = new URLSearchParams(location.search), wish = asked.get("lang") || (asked.get("words") === "test" ? "test" : (navigator.language || "en").slice(0, 2));
const testing = wish === "test";
export const language = tables[wish] ? wish : "en";
const words = tables[language];

export function say(key, values = {}) {
  let text = words[key] ?? english[key] ?? key;
  for (const [name, value] of Object.entries(values)) text = text.replaceAll(`{${name}}`, String(value));
  return testing ? `«${text}»` : text;
}
export const knows = (key) => key in words || key in english;

// What was not taken ("not"), what to take care of ("care"), what is in doubt ("doubt"): a sentence
// with an ink bar on its left, beside the thing it is about.
import { el } from "./dom.js";
import { say } from "./words.js";

export const told = (kind, message) => el("p", { class: "told", role: kind === "not" ? "alert" : null }, say(`told.${kind}`, { message }));
// What was not taken of something sent, with what to do about it.
export const refused = (e) => told("not", `${e.message} ${e.remedy || ""}`);

// Every word on the screens, by key; one table a language. `?words=test` shows each text wrapped in
// marks, which proves that none is written elsewhere.
import { hands } from "./words_hands.js";
import { shape } from "./words_shape.js";

const english = {
  ...hands, ...shape,
  "step.found": "Found", "step.sizes": "Sizes", "step.outline": "Outline", "step.curve": "Curve",
  "step.making": "Making", "step.strength": "Shape and strength", "step.material": "Material and season",
  "step.trials": "Trials", "step.report": "Report", "step.share": "Letting others in", "step.papers": "papers",
  "short.strength": "Strength", "short.material": "Material",
  "state.not begun": "not begun", "state.can start": "can start", "state.holds": "holds", "state.in doubt": "in doubt",
  "footing.seen": "seen", "footing.worked out": "worked out", "footing.from a parallel": "from a parallel",
  "footing.guessed": "guessed", "footing.modern need": "modern need",
  "home.found": "As found", "home.made": "As proposed", "home.turn": "turn",
  "home.empty": "Bring in a finds list to begin: a CSV or XLSX table, one row a piece.",
  "home.nothing": "Nothing is proposed yet.",
  "open.none": "nothing open", "open.one": "1 question open", "open.many": "{n} questions open",
  "next.import": "Bring in the finds list.", "next.compute": "Work out what is in doubt.",
  "next.blocked": "{step}: {message}", "next.done": "All steps hold. Write the report.",
  "do.compute": "Work it out", "do.stop": "Stop", "do.why": "why?", "do.close": "close", "do.enter": "Enter",
  "do.save": "Enter the change", "do.withdraw": "Withdraw", "do.undo": "Undo", "do.find": "Find", "do.import": "Bring in a file",
  "do.home": "Home", "do.more": "Show all {n}",
  "told.not": "Not taken: {message}", "told.care": "Take care: {message}", "told.doubt": "In doubt: {message}",
  "told.lost": "The program does not answer. What you typed is kept on this page.", "told.saved": "Entered.",
  "told.conflict": "Someone changed this while you were writing. Theirs is shown beside yours; choose.",
  "told.read": "You are reading only; ask for the key to enter.",
  "why.rule": "Rule: {text}", "why.source": "Source: {text}", "why.rival": "Rival: {text}", "why.rests": "It rests on",
  "why.raw": "Read: {text}", "why.entered": "entered by {who}, {when}",
  "theme.day": "Day", "theme.lamp": "Lamp", "theme.sun": "Sun", "theme.label": "Light",
  "found.pieces": "Pieces", "found.add": "Add a reading", "found.piece": "Piece", "found.part": "Part",
  "found.material": "Material", "found.zone": "Zone", "found.readings": "Readings", "found.unknown": "unknown",
  "field.needed": "needed", "field.unknown": "not known",
  "step.nothing": "Nothing has been worked out here yet.",
  "step.statements": "What is said", "step.tables": "Tables",
  "working": "Working on {step}: {what}",
  "picture.none": "There is no drawing of this yet.",
};

const testing = new URLSearchParams(location.search).get("words") === "test";

export function say(key, values = {}) {
  let text = english[key] ?? key;
  for (const [name, value] of Object.entries(values)) text = text.replaceAll(`{${name}}`, String(value));
  return testing ? `«${text}»` : text;
}
export const knows = (key) => key in english;

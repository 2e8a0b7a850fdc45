// English: every word on the screens that is not the program's own sentence, by key. One table a
// language; parts of it that belong to one screen stand in files of their own.
import { foundWords } from "./words_found.js";
import { hands } from "./words_hands.js";
import { shape } from "./words_shape.js";

export const english = {
  ...foundWords, ...hands, ...shape,
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
  "tally.name": "The steps of the job", "head.name": "What can be done anywhere", "do.share": "Share",
  "step.find": "Find", "step.journal": "Journal", "step.trace": "Trace",
  "table.yes": "yes", "table.no": "no",
  "step.nothing": "Nothing has been worked out here yet.",
  "step.statements": "What is said", "step.tables": "Tables",
  "working": "Working on {step}: {what}", "working.rough": "A first rough answer: {step}",
  "frame.rough": "A first rough answer, from {n} possible originals. It is replaced as soon as this step is worked out properly.",
  "entry.why": "Why (for the journal)",
  "picture.coming": "The drawing is being made.", "picture.none": "There is no drawing of this yet.",
};

// Trials: what each would teach, what was set and read, how it went against the prediction, and
// what it changed.
import { el } from "./dom.js";
import { ask, mayWrite } from "./door.js";
import { say } from "./words.js";
import { frame, unroll } from "./frame.js";
import { table } from "./tables.js";
import { told } from "./told.js";
import { adder, line, freeName, today } from "./adder.js";
import { trialCurve } from "./curve_of_trial.js";
import { scanned } from "./scanned.js";

const TRIAL = ["id", "question", "made", "varied", "fixed", "species", "outcome", "unit", "predicted", "half", "predicted_by", "predicted_on", "made_on", "if_supports", "if_against", "if_open",
  "tools", "skill", "maker", "sheets", "hours", "days", "column", "material", "noise", "tree_spread", "modern_ancient", "settle_day", "closed_on", "note"];
const SET_UP = ["id", "question", "made", "outcome", "unit", "predicted", "half", "predicted_by", "predicted_on", "made_on", "if_supports", "if_against", "if_open", "column", "material", "noise", "tree_spread", "modern_ancient", "note"];
const PIECE = ["id", "trial", "tree", "setting", "order", "made_on", "around", "along", "through", "mass", "chord", "rise", "failed", "failure", "note"];
const READING = ["id", "piece", "date", "value", "around", "along", "through", "mass", "chord", "rise", "humidity", "temperature", "photo", "who", "note"];

const SCAN = ["id", "trial_piece", "piece", "file", "unit", "against", "pairs", "places", "patch", "tolerance", "correlation", "date", "who", "note"];

const short = (v) => Number(v.toPrecision(3));

// What the plan foretells, ready to be set up as a trial.
function setUp(kinds, trials, row, { candidates = [], ranked = [] }) {
  const c = candidates.find((x) => x.id === row[0]) || {}, foretold = ranked.find((x) => x.id === row[0]) || {};
  const body = { id: trials.some((t) => t.id === row[0]) ? freeName(`${row[0]}-`, trials) : row[0], question: row[1], made: c.made || row[1], predicted_on: today(), if_open: say("trials.if_open") };
  for (const name of ["outcome", "unit", "column", "material", "noise", "tree_spread", "modern_ancient"]) if (c[name] !== undefined) body[name] = c[name];
  if (!body.outcome) body.outcome = "measured value";
  if (foretold.predicted !== undefined) Object.assign(body, { predicted: short(foretold.predicted), half: short(foretold.half ?? 0) });
  return adder({ kinds, kind: "trial", names: SET_UP, label: say("trials.set", { id: row[0] }), fresh: () => body });
}

function teaching(kinds, plan, trials, known) {
  if (!plan) return el("p", {}, say("trials.teach.none"));
  const one = (row) => {
    const t = (known.ranked || []).find((x) => x.id === row[0]) || {}, settles = Number(row[4]), trees = t.trees_needed || 0;
    return el("li", {},
      el("p", {}, el("b", {}, row[1] || row[0]), `, ${row[2] === "yes" ? say("trials.teach.plan", { order: row[3] }) : say("trials.teach.not")}. `,
        settles >= 1 ? say("trials.teach.gives", { left: 100 - Math.round(settles) }) : say("trials.teach.little"), " ",
        say(trees ? "trials.teach.test" : "trials.teach.no_test", { trees, foretold: t.foretold || "?" })),
      t.why || t.means ? unroll(say("do.why"), () => el("div", {}, [t.why, t.means, t.repeats].filter(Boolean).map((words) => el("p", {}, words)))) : null,
      setUp(kinds, trials, row, known));
  };
  return el("ol", { class: "order" }, plan.rows.map(one));
}

// A reading by phone: the piece's own sizes first, today filled in.
function readings(kinds, trial, pieces, all) {
  const own = pieces.filter((p) => p.body.trial === trial.id);
  return el("div", {},
    own.length ? el("ul", {}, own.map((p) => {
      const read = all.filter((r) => r.body.piece === p.id);
      return line({ kinds, kind: "trial_piece", names: PIECE, entry: p, text: say(read.length === 1 ? "trials.pieces.once" : "trials.pieces.one", { id: p.id, made: p.body.made_on ? say("trials.made", { date: p.body.made_on }) : "", n: read.length }) });
    })) : null,
    adder({ kinds, kind: "trial_piece", names: PIECE, what: say("trials.piece"), fresh: () => ({ id: freeName(`${trial.id}.`, own), trial: trial.id, made_on: today() }) }),
    own.length ? adder({ kinds, kind: "trial_reading", names: READING, what: say("trials.reading"),
      fresh: () => ({ id: freeName(`${trial.id}.r`, all.filter((r) => own.some((p) => p.id === r.body.piece))), piece: own[0].id, date: today() }) }) : null);
}

function entered(kinds, trials, pieces, all, answers) {
  if (!trials.length) return el("p", {}, say("trials.none"));
  return el("div", {}, trials.map((t) => {
    const a = answers.find((x) => x.id === t.id), b = t.body;
    return el("section", {}, el("h3", {}, `${t.id}: ${b.question || ""}`),
      el("p", {}, b.predicted === undefined ? "" : `${say("trials.foretold", { value: b.predicted, half: `${b.half ?? "?"}${(a?.unit ?? b.unit) ? ` ${a?.unit ?? b.unit}` : ""}` })}${b.predicted_on ? `, ${b.predicted_on}` : ""}. `,
        el("b", {}, (a && a.verdict) || say("trials.verdict.none"))),
      a && (a.verdict ? a.more : a.say) ? el("p", {}, a.verdict ? a.more : a.say) : null,
      readings(kinds, t, pieces, all),
      el("ul", {}, line({ kinds, kind: "trial", names: TRIAL, entry: t, text: b.note || b.made || "" })));
  }));
}

// A size by its column, A12.lath_shadow.pitch.dry, in words.
const STATES = { dry: "sizes.dry", fresh: "sizes.fresh" };
const columnWords = (column) => column.split(".").map((w) => (STATES[w] ? say(STATES[w]) : w.replaceAll("_", " "))).join(", ");

// Numbers as the trials left them; sizes and strength with and without them stand below.
function changed(changes, named, moved) {
  if (!changes.length) return el("p", {}, say("trials.change.none"));
  const range = (c, at) => `${short(c[`${at}50`])} (${short(c[`${at}05`])} to ${short(c[`${at}95`])})`;
  const words = (c) => ((named || { rows: [] }).rows.find((row) => row[0] === c.trial && row[5] === c.column) || [])[1] || columnWords(c.column);
  const one = (c) => el("li", {}, say("trials.change", { number: `${c.trial}, ${words(c)}`, before: range(c, "before"), after: range(c, "after"), left: Math.round(c.left) }));
  const people = (t) => ({ ...t, columns: t.columns.slice(0, -1), rows: t.rows.map((row) => row.slice(0, -1)) });
  const of = new Set(((moved || {}).rows || []).map((row) => row[row.length - 1]));
  const own = changes.filter((c) => !of.has(c.column));
  return el("div", {}, el("ul", {}, (own.length ? own : changes).map(one)),
    moved && moved.rows.length ? unroll(say("trials.moved", { n: moved.rows.length }), () => table(people(moved))) : null);
}

export async function screen(project) {
  const list = (kind) => ask("entries", { kind });
  const [stored, kinds, trials, pieces, all, scans] = await Promise.all([
    ask("result", { step: "trials" }), ask("kinds"), list("trial"), list("trial_piece"), list("trial_reading"), list("scan")]);
  const r = stored.result || {}, tables = r.tables || {}, answers = r.answers || [], curves = answers.filter((a) => a.series && a.series.length);
  const left = el("div", {},
    el("h3", {}, say("trials.curve")), curves.length ? curves.map(trialCurve) : el("p", {}, say("trials.curve.none")),
    el("h3", {}, say("trials.changed")), changed(r.changes || [], tables.changes, tables.moved),
    r.stale ? told("care", r.stale) : null,
    tables.needs ? unroll(tables.needs.title, () => table(tables.needs)) : null,
    el("h3", {}, say("scans.title")), scanned(kinds, SCAN, scans, r),
    tables.answers ? unroll(say("trials.said"), () => table(tables.answers)) : null,
    tables.plan ? unroll(tables.plan.title, () => el("div", {}, table(tables.plan), tables.plan_facts ? [el("h4", {}, tables.plan_facts.title), table(tables.plan_facts)] : null)) : null);
  const right = [
    el("h2", {}, say("trials.entered")), entered(kinds, trials, pieces, all, answers),
    mayWrite() ? adder({ kinds, kind: "trial", names: TRIAL, what: say("trials.own"), fresh: () => ({ id: freeName("T", trials), predicted_on: today() }) }) : null,
    el("h2", {}, say("trials.teach")), r.say ? told("care", r.say) : null, teaching(kinds, tables.plan, trials, r),
    el("p", { class: "second" }, say("trials.sheet"))];
  return frame(project, "trials", left, right);
}

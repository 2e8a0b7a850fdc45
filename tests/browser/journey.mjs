// The whole job on the tray from an empty project, by mouse, by keyboard alone or by finger, on a wide
// screen or at the size of a phone. Import, mend bad rows, trace, compute, change the making,
// see the shape, plan the season, enter a trial, read what it changed, write the report.
//
//   node journey.mjs PROGRAM WAY FOLDER DEMO      WAY: mouse, keyboard, keyboard-phone or finger
//
// RELICT_JOURNEY_KEEP=FILE keeps the project as it is once worked out; RELICT_JOURNEY_FROM=FILE begins
// there, to try the later deeds without the minutes before them.
import { execFileSync } from "node:child_process";
import { copyFileSync, existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { launch, serve, open, fault, faults } from "./browser.mjs";
import * as ways from "./hands.mjs";

const [, , program, label, folder, demo] = process.argv, [way, size_] = label.split("-"), narrow = way === "finger" || size_ === "phone";
mkdirSync(folder, { recursive: true });
const work = mkdtempSync(join(tmpdir(), "relict-journey-")), project = join(work, "again.relict");
process.env.XDG_STATE_HOME = work;
const from = process.env.RELICT_JOURNEY_FROM, beside = ["", ...["sizes", "outline", "strength", "trials"].map((s) => `-draws-${s}`)];
const copyAll = (a, b) => beside.forEach((s) => existsSync(a + s) && copyFileSync(a + s, b + s));
if (from) copyAll(from, project);
else execFileSync(program, ["new", project, "The tray again (invented)", "--draws", "256"]);

// Two rows as they come: a comma for a point, and a letter for a nought.
const list = readFileSync(join(demo, "finds.csv"), "utf8").split("\n").map((l) =>
  l.startsWith("A06,") ? l.replace("120.5", "12O.5") : l.startsWith("A11,") ? l.replace("155.5", "-155.5") : l).join("\n");
const finds = join(work, "finds.csv");
writeFileSync(finds, list);

const server = await serve(program, project), browser = await launch(), where = { at: "opening" };
const size = narrow ? [390, 844] : [1400, 900];
const page = await open(browser, server.address, { width: size[0], height: size[1], hasTouch: way === "finger", isMobile: way === "finger", where });
const hand = ways[way](page);
const button = (name, within = page) => within.getByRole("button", { name, exact: typeof name === "string" }).first();
const link = (name, within = page) => within.getByRole("link", { name }).first();
let pictures = 0;
const begun = Date.now(), told = [];

const project_ = () => page.evaluate(() => fetch("/api/project").then((r) => r.json()));
async function until(what, test, most = 400000) {
  const end = Date.now() + most;
  for (;;) {
    const value = await test().catch(() => null);
    if (value) return value;
    if (Date.now() > end) throw new Error(`waited in vain for: ${what}`);
    await page.waitForTimeout(150);
  }
}
const quiet = () => until("the working to end", async () => { const p = await project_(); return !(p.running === true || p.running?.running) && p; });
const screenIs = (name) => until(`the screen ${name}`, () => page.evaluate((n) => document.querySelector("main")?.dataset.screen === n && document.readyState === "complete", name), 20000);
const holds = (p, ...steps) => steps.every((s) => p.steps.find((x) => x.step === s).state === "holds");

// By the tally, as a person goes.
async function to(step, title) {
  await hand.press(page.getByRole("navigation", { name: "steps" }).getByRole("link", { name: new RegExp(`^${title}`) }).first());
  await screenIs(step);
}
// Fields of a form that stands open, by the name of their datum.
async function fill(form, values) {
  for (const [name, value] of Object.entries(values)) {
    const field = form.locator(`[name="${name}"]`);
    if (await field.evaluate((e) => e.localName === "select")) await hand.choose(field, { label: value });
    else await hand.write(field, String(value));
  }
  await hand.press(button("Enter the change", form));
  await form.waitFor({ state: "detached", timeout: 20000 });
}
async function deed(name, act) {
  where.at = `${label}: ${name}`;
  const from = Date.now();
  try {
    await act();
    await page.screenshot({ path: `${folder}/${label}-${String(++pictures).padStart(2, "0")}-${name.replaceAll(" ", "-")}.png`, fullPage: true });
    told.push([name, (Date.now() - from) / 1000]);
  } catch (e) {
    fault(`${label}: ${name}: ${e.message.split("\n").slice(0, 3).join(" ")}`);
    await page.screenshot({ path: `${folder}/${label}-failed-${name.replaceAll(" ", "-")}.png`, fullPage: true }).catch(() => {});
  }
}
const entries = (kind) => page.evaluate((k) => fetch(`/api/entries?kind=${k}`).then((r) => r.json()), kind);

const copies = async () => (await entries("making")).filter((m) => m.body.copy_of && !m.gone).length;

export const journey = { page, hand, way, button, link, until, quiet, screenIs, holds, to, fill, deed, entries, project: project_, demo, work, finds };

if (!from) await deed("look where all is empty", async () => {
  for (const step of ["sizes", "outline", "curve", "making", "strength", "material", "trials", "report"]) {
    await page.evaluate((n) => { location.hash = n; }, step);
    await screenIs(step);
    if (!(await page.getByText(/^First bring in a finds list/).first().isVisible())) throw new Error(`${step} does not say what to do first`);
  }
  await hand.press(link("Open Found"));
  await screenIs("found");
  await hand.press(link("The tray again (invented)"));
  await screenIs("");
});

if (!from) await deed("bring the list in", async () => {
  await hand.file(button(/Choose the file|Bring in a file/), finds);
  await hand.press(button("Bring the list in"));
  const begun = Date.now();
  await until("40 pieces", async () => (await entries("piece")).length === 40);
  // a picture before questions: a rough proposal stands while the rest is worked out
  if (narrow) await hand.press(button("turn")); // a phone shows one leaf at a time
  await page.locator(".made [data-part]").first().waitFor({ state: "attached", timeout: 60000 });
  told.push(["  a first rough proposal", (Date.now() - begun) / 1000]);
  // which can be stopped, and entering does not wait for it
  await hand.press(button("Stop"));
});

if (!from) await (await import("./journey_found.mjs")).found(journey);

if (!from) await deed("work it out", async () => {
  await hand.press(page.getByRole("link", { name: /The tray again/ }).first());
  await screenIs("");
  if (!holds(await quiet(), "found", "sizes", "outline", "making")) {
    await hand.press(button("Work it out"));
    await page.waitForTimeout(500);
  }
  const p = await quiet();
  if (!holds(p, "found", "sizes", "outline", "making", "strength")) throw new Error(`not all holds: ${JSON.stringify(p.steps.map((s) => [s.step, s.state]))}`);
  if (process.env.RELICT_JOURNEY_KEEP) copyAll(project, process.env.RELICT_JOURNEY_KEEP);
});

await deed("ask why", async () => {
  await to("sizes", "Sizes");
  const why = page.locator(".why-button").first();
  await hand.press(why);
  await until("the why, unrolled where the number stands", async () => (await why.getAttribute("aria-expanded")) === "true" && /It rests on|Rule:|Source:/.test(await why.locator("xpath=ancestor::div[@class='sentence']").innerText()), 20000);
});

await deed("change the making", async () => {
  await to("making", "Making");
  const part = page.getByLabel("Part", { exact: true });
  const options = await part.evaluate((s) => [...s.options].map((o) => o.label.trim()));
  await hand.choose(part, { label: options.find((o) => /lath/i.test(o)) });
  const x = page.getByRole("textbox", { name: /: along, mm/ });
  const before = Number((await x.inputValue()).replace("−", "-"));
  await hand.write(x, "1o2");
  await page.keyboard.press("Enter");
  const beside = page.locator(".inplace").filter({ has: x }).getByRole("alert");
  await until("the error beside its field", async () => /^Not taken/.test(await beside.innerText()), 5000);
  await hand.write(x, String(before + 12));
  await page.keyboard.press("Enter");
  await until("an answer of what it would do", () => page.getByText(/The middle would stand over/).first().isVisible(), 180000);
  await hand.press(button("Keep as a copy"));
  await until("a copy", copies);
});

await deed("take it back and do it again", async () => {
  const { revision } = await project_();
  await hand.press(button("Undo"));
  await until("no copy", async () => (await copies()) === 0, 20000);
  if ((await project_()).revision <= revision) throw new Error("taking back is no change of its own");
  await hand.press(button("Redo"));
  await until("the copy again", copies, 20000);
});

await deed("see the shape", async () => {
  await to("strength", "Strength");
  await until("a drawing of the form", () => page.locator("main svg.ink, main canvas").first().isVisible(), 30000);
});

await deed("plan the season", async () => {
  await to("material", "Material");
  await hand.write(page.getByRole("textbox", { name: "The copy is to be shown from" }), "2027-09-01");
  await hand.press(button("Enter"));
  await until("the opening is entered", async () => (await entries("choice")).some((c) => c.body.about === "opening" && c.body.value === "2027-09-01"));
  await page.waitForLoadState();
  await screenIs("material");
  await hand.press(button("Add a tree or pole"));
  await fill(page.locator("form", { has: page.locator('[name="girth"]') }).first(), { species: "Tilia cordata", kind: "coppice pole", girth: 1320, clear_length: 3100, consent: "given" });
  await until("a stem", async () => (await entries("stem")).length === 1);
  await page.waitForLoadState();
  await screenIs("material");
  await hand.press(button("Work it out"));
  await until("the plan", async () => holds(await quiet(), "material"));
  await until("the plan of the season", () => page.getByText("Plan back from the opening").nth(1).isVisible(), 20000);
});

await deed("enter a trial", async () => {
  await to("trials", "Trials");
  if (!holds(await quiet(), "trials")) {
    await hand.press(button("Work it out"));
    await until("the plan of trials", async () => holds(await quiet(), "trials"));
    await screenIs("trials");
  }
  await hand.press(button("Set up the trial “strips”"));
  const setting = page.locator("form", { has: page.locator('[name="if_supports"]') }).first();
  await hand.press(button("Enter the change", setting));
  await setting.waitFor({ state: "detached", timeout: 20000 });
  await until("a trial", async () => (await entries("trial")).length === 1);
  const trial = (await entries("trial"))[0];
  for (const [tree, around] of [["first", 93.1], ["second", 94.2], ["third", 93.6]]) {
    await page.waitForLoadState();
    await screenIs("trials");
    const n = (await entries("trial_piece")).length;
    await hand.press(button("Add a piece of this trial"));
    await fill(page.locator("form", { has: page.locator('[name="tree"]') }).first(), { tree, made_on: "2026-11-26", around: 100, along: 200, through: 4 });
    await until("a piece", async () => (await entries("trial_piece")).length === n + 1);
    await page.waitForLoadState();
    await screenIs("trials");
    await hand.press(button("Add a reading of today"));
    await fill(page.locator("form", { has: page.locator('[name="humidity"]') }).first(), { piece: `${trial.id}.${n + 1}`, date: "2026-12-24", around });
    await until("a reading", async () => (await entries("trial_reading")).length === n + 1);
  }
  await page.waitForLoadState();
  await screenIs("trials");
});

await deed("read what it changed", async () => {
  await hand.press(button("Work it out"));
  await until("the trial is read back", async () => holds(await quiet(), "trials"));
  await screenIs("trials");
  await until("a verdict", () => page.getByText(/^(supports|does not support|cannot tell yet)$/).first().isVisible(), 20000);
  const changed = await page.getByRole("listitem").filter({ hasText: / in 100 of its range are left/ }).count();
  if (!changed) throw new Error("nothing is told as changed");
  told.push([`  numbers told as changed: ${changed}`, 0]);
});

await deed("write the report", async () => {
  await to("report", "Report");
  await hand.press(button("Write the papers"));
  await until("the papers", () => page.getByText(/^\d+ files are written/).isVisible(), 120000);
  const save = link("Save argument.html");
  const [download] = await Promise.all([page.waitForEvent("download"), hand.press(save)]);
  const path = join(work, "argument.html");
  await download.saveAs(path);
  if (!readFileSync(path, "utf8").includes("The tray again")) throw new Error("the argument is not of this project");
  await hand.press(button("Show label.html"));
  await page.frameLocator("iframe.preview").getByText(/draft/i).first().waitFor({ timeout: 10000 });
});

await browser.close();
await server.stop();
rmSync(work, { recursive: true, force: true });
console.log(`by ${label}, ${size[0]} px wide:`);
for (const [name, seconds] of told) console.log(`  ${name.padEnd(28)} ${seconds ? `${seconds.toFixed(1)} s` : ""}`);
console.log(`  all in ${((Date.now() - begun) / 1000).toFixed(0)} s, ${faults.length} faults`);
process.exit(faults.length ? 1 : 0);

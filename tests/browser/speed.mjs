// How fast the first screen stands, and how much comes over the line before anything in space; what a
// dragged lath costs and how soon it is answered; what the server holds of memory; how soon after a finds
// list is dropped in a first rough answer stands; then how a list of 2,000 pieces is drawn and scrolls.
// Prints figures with what is asked; never passes or fails.
//
//   node speed.mjs PROGRAM PROJECT [LIST [MANY]]      LIST: a finds list; MANY: a project of 2,000 pieces
import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { launch, serve } from "./browser.mjs";

const [, , program, project, list, many] = process.argv;
const line = (what, got, asked, unit) => console.log(`  ${what.padEnd(46)} ${got.toFixed(got < 10 ? 2 : 0).padStart(8)} ${unit}   asked: ${asked} ${unit}${got > asked ? "   MISSED" : ""}`);
const browser = await launch();

// What the page's own thread has worked, in ms of the processor: a busy machine does not make it more.
async function meter(page) {
  const cdp = await page.context().newCDPSession(page);
  await cdp.send("Performance.enable", { timeDomain: "threadTicks" });
  return async () => {
    const { metrics } = await cdp.send("Performance.getMetrics"), of = (n) => 1000 * metrics.find((m) => m.name === n).value;
    return { all: of("TaskDuration"), script: of("ScriptDuration"), layout: of("LayoutDuration") + of("RecalcStyleDuration") };
  };
}
const between = (a, b) => Object.fromEntries(Object.keys(a).map((k) => [k, b[k] - a[k]]));
const worked = (what, m) => console.log(`  ${what}: ${m.all.toFixed(m.all < 10 ? 1 : 0)} ms of the processor (script ${m.script.toFixed(m.all < 10 ? 1 : 0)}, style and layout ${m.layout.toFixed(m.all < 10 ? 1 : 0)}, the rest painting)`);

async function first(file, name, deed) {
  const server = await serve(program, file), context = await browser.newContext({ viewport: { width: 1400, height: 900 } }), page = await context.newPage();
  let bytes = 0;
  const wire = await context.newCDPSession(page);
  await wire.send("Network.enable");
  wire.on("Network.loadingFinished", (e) => { bytes += e.encodedDataLength; }); // heads and bodies as they came
  const begun = performance.now();
  await page.goto(server.address);
  await page.waitForFunction(() => document.querySelector("main h2") && document.querySelector("main svg"), null, { timeout: 60000 });
  const stands = (performance.now() - begun) / 1000;
  await page.waitForTimeout(300);
  line(`${name}: first screen stands`, stands, 1, "s");
  if (!deed || name === "tray") line(`${name}: over the line`, bytes / 1000, 400, "kB");
  line(`${name}: the server at rest holds`, Number(/VmRSS:\s+(\d+)/.exec(readFileSync(`/proc/${server.pid}/status`, "utf8"))[1]) / 1024, 150, "MB");
  if (deed) await deed(page, name);
  await context.close();
  await server.stop();
}

// Frames while the page is scrolled from top to foot.
async function scrolling(page, name) {
  const read = await meter(page), before = await read();
  const drawn = await page.evaluate(() => new Promise((done) => {
    const began = performance.now();
    const look = () => (document.querySelector("main")?.dataset.screen === "found" && document.querySelector(".ink [data-piece]") ? requestAnimationFrame(() => done(performance.now() - began)) : requestAnimationFrame(look));
    location.hash = "found";
    look();
  }));
  line(`${name}: Found is drawn first`, drawn / 1000, 1, "s");
  worked("  the first drawing", between(before, await read()));
  const rest = await read();
  const slow = await page.evaluate(() => new Promise((done) => {
    const times = [];
    let last = performance.now(), n = 0;
    const step = (now) => {
      times.push(now - last);
      last = now;
      scrollBy(0, 120);
      if (++n < 90) requestAnimationFrame(step);
      else done(times.slice(1).sort((a, b) => a - b)[Math.floor(0.95 * (times.length - 1))]);
    };
    requestAnimationFrame(step);
  }));
  line(`${name}: a frame while scrolling, 95 in 100 under`, slow, 34, "ms");
  worked("  90 frames of it", between(rest, await read()));
}

// A lath is dragged to and fro in 90 steps: what the page works for each frame (the move, its style,
// layout and paint; not the wait for the screen), how soon the stand-in answers, and, let go, the shell.
async function dragging(page, name) {
  await page.evaluate(() => { location.hash = "making"; });
  await page.waitForFunction(() => document.querySelector("main")?.dataset.screen === "making" && document.querySelector(".ink .thing"), null, { timeout: 60000 });
  const ready = await page.waitForFunction(() => Number(document.querySelector(".doing")?.dataset.took) >= 0 && document.querySelector(".doing .number"), null, { timeout: 120000 }).catch(() => null);
  if (!ready) { // no matter of speed
    console.log(`  ${name}: FAULT: no answer came for a part that is moved`);
    process.exitCode = 1;
    return;
  }
  await page.waitForTimeout(5000); // the stand-in has learned
  const lath = page.locator('.ink .thing[aria-label*="lath"]').first();
  await lath.scrollIntoViewIfNeeded();
  const box = await lath.boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  const read = await meter(page), before = await read();
  const { work, took } = await lath.evaluate((g, at) => new Promise((done) => {
    const work = [], took = [], channel = new MessageChannel();
    let n = 0, began = 0;
    channel.port1.onmessage = () => {
      work.push(performance.now() - began);
      took.push(Number(document.querySelector(".doing").dataset.took));
      if (++n < 90) requestAnimationFrame(step);
      else done({ work, took });
    };
    const step = () => {
      began = performance.now();
      g.dispatchEvent(new PointerEvent("pointermove", { pointerId: 1, clientX: at.x + 40 * Math.sin(n / 8), clientY: at.y + 3 * Math.sin(n / 5), bubbles: true }));
      channel.port2.postMessage(0);
    };
    requestAnimationFrame(step);
  }), { x: box.x + box.width / 2, y: box.y + box.height / 2 });
  const whole = between(before, await read());
  await page.evaluate(() => { delete document.querySelector(".doing").dataset.shell; });
  await page.mouse.up();
  const shell = await page.waitForFunction(() => document.querySelector(".doing").dataset.shell, null, { timeout: 60000 }).then((h) => h.jsonValue()).catch(() => NaN);
  const of95 = (v) => v.sort((a, b) => a - b)[Math.floor(0.95 * (v.length - 1))];
  const frames = work.slice(3).sort((a, b) => a - b);
  line(`${name}: a dragged lath is drawn, half of ${frames.length} within`, frames[frames.length >> 1], 16, "ms");
  line(`${name}: ... 95 in 100 within`, of95(frames), 16, "ms");
  console.log(`    the slowest ${frames.at(-1).toFixed(0)} ms (a busy machine makes it longer; the next line does not know of that)`);
  worked("  a frame of the drag", Object.fromEntries(Object.entries(whole).map(([k, v]) => [k, v / 90])));
  line(`${name}: its curl by the stand-in, 95 in 100 under`, of95(took.slice(3)), 100, "ms");
  line(`${name}: its curl by the shell`, Number(shell), 1000, "ms");
}

// From an empty project: the list is chosen, its headings are agreed to, and the picture grows.
async function dropping() {
  const folder = mkdtempSync(join(tmpdir(), "relict-speed-")), file = join(folder, "new.relict");
  execFileSync(program, ["new", file, "A list is dropped in"]);
  const server = await serve(program, file), page = await browser.newPage({ viewport: { width: 1400, height: 900 } });
  await page.goto(server.address);
  const [chooser] = await Promise.all([page.waitForEvent("filechooser"), page.getByRole("button", { name: /Choose the file/ }).first().click()]);
  let begun = performance.now();
  const since = () => (performance.now() - begun) / 1000, most = { timeout: 120000 };
  await chooser.setFiles(list);
  await page.waitForSelector("form.mapping", most);
  line("a list: what its headings mean is proposed", since(), 1, "s");
  begun = performance.now();
  await page.locator("form.mapping button.main").click();
  await page.waitForSelector(".trestle .found svg [data-piece]", most);
  line("a list: its pieces are drawn", since(), 2, "s");
  await page.waitForSelector(".trestle .made svg [data-part]", most);
  line("a list: a first rough proposal is drawn", since(), 10, "s");
  await page.context().close();
  await server.stop();
  rmSync(folder, { recursive: true, force: true });
}

await first(project, "tray", dragging);
if (list) await dropping();
if (many) await first(many, "2,000 pieces", scrolling);
await browser.close();

// What the browser tests share: Debian's Chromium, a program that serves a project, and a list of
// what went wrong. Every test opens pages through `open`, which counts errors on the console.
import { spawn } from "node:child_process";
import { createRequire } from "node:module";
import { chromium } from "playwright-core";

const FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
  "--disable-component-update", "--disable-sync"];
export const axeFile = createRequire(import.meta.url).resolve("axe-core/axe.min.js");

export const launch = () => chromium.launch({ headless: true, executablePath: process.env.CHROMIUM || "/usr/bin/chromium", args: FLAGS });

export const faults = [];
export function fault(text) {
  faults.push(text);
  console.log(`not ok: ${text}`);
}

// Serves a project: {address, stop()}.
export async function serve(program, project, more = []) {
  const child = spawn(program, ["serve", project, "--quiet", ...more], { stdio: ["ignore", "pipe", "inherit"] });
  let told = "";
  const address = await new Promise((done, failed) => {
    child.stdout.on("data", (d) => {
      told += d;
      const found = /http:\/\/\S+#key=[0-9a-f]{32}/.exec(told);
      if (found) done(found[0]);
    });
    child.on("exit", (code) => failed(new Error(`relict serve ended with ${code}: ${told}`)));
    setTimeout(() => failed(new Error("relict serve printed no address in 20 s")), 20000).unref();
  });
  return { address, told: () => told, pid: child.pid, stop: () => new Promise((done) => { child.removeAllListeners("exit"); child.on("exit", (code) => done(code)); child.kill("SIGTERM"); }) };
}

// A page at the address. The page's own rules forbid foreign scripts, so axe-core is put in from
// outside them. `where.at` names what is being done, for faults.
export async function open(browser, address, { width = 1400, height = 900, where = { at: "opening" }, ...more } = {}) {
  const context = await browser.newContext({ bypassCSP: true, reducedMotion: "reduce", viewport: { width, height }, acceptDownloads: true, ...more });
  const page = await context.newPage();
  page.on("console", (m) => m.type() === "error" && fault(`${where.at}: console: ${m.text()} ${m.location().url || ""}`));
  page.on("pageerror", (e) => fault(`${where.at}: ${e.message}`));
  await page.goto(address);
  await page.waitForFunction(() => document.querySelector("main")?.dataset.screen !== undefined, null, { timeout: 60000 });
  return page;
}

export async function go(page, name) {
  await page.evaluate((n) => { location.hash = n; }, name);
  await page.waitForFunction((n) => document.querySelector("main")?.dataset.screen === n, name, { timeout: 60000 });
}

export async function axe(page, at) {
  if (!(await page.evaluate(() => Boolean(globalThis.axe)))) await page.addScriptTag({ path: axeFile });
  const { violations } = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ["violations"] }));
  for (const v of violations)
    fault(`${at}: axe ${v.id}, ${v.nodes.length} times, first at ${v.nodes[0].target.join(" ")}`);
  return violations.length;
}

export function end(what) {
  console.log(`${what}: ${faults.length} faults`);
  process.exit(faults.length ? 1 : 0);
}

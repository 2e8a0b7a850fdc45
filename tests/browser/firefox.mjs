// The screens in Firefox, which is not driven as Chromium is but over its own open remote protocol
// (WebDriver BiDi, W3C). Opens each screen at two widths, takes a picture, and asks for no error on the
// console and nothing wider than the window. Where there is no firefox-esr it says so.
//
//   node firefox.mjs PROGRAM PROJECT FOLDER
import { execFileSync, spawn } from "node:child_process";
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import WebSocket from "ws";
import { serve, fault, end } from "./browser.mjs";

const [, , program, project, folder] = process.argv;
let version;
try { version = execFileSync("firefox-esr", ["--version"], { encoding: "utf8", stdio: ["ignore", "pipe", "ignore"] }).trim(); } catch {
  console.log("  firefox-esr is not installed, so no screen was looked at in it (apt install firefox-esr)");
  process.exit(0);
}
const SCREENS = ["", "found", "trace/A16", "sizes", "outline", "curve", "making", "strength", "material", "trials", "report", "share"], WIDTHS = [[390, 844], [1400, 900]];
mkdirSync(folder, { recursive: true });
const home = mkdtempSync(join(tmpdir(), "relict-firefox-")), server = await serve(program, project);
const fox = spawn("firefox-esr", ["--headless", "--no-remote", "--profile", home, "--remote-debugging-port", "0", "about:blank"], { env: { ...process.env, HOME: home }, stdio: ["ignore", "ignore", "pipe"] });
const address = await new Promise((done, failed) => {
  let told = "";
  fox.stderr.on("data", (d) => { told += d; const found = /listening on (ws:\S+)/.exec(told); if (found) done(found[1]); });
  setTimeout(() => failed(new Error(`Firefox did not open its door: ${told}`)), 60000).unref();
});
const socket = new WebSocket(`${address}/session`), waiting = new Map();
let number = 0, at = "opening";
socket.on("message", (text) => {
  const m = JSON.parse(text);
  if (m.id && waiting.has(m.id)) {
    const { done, failed } = waiting.get(m.id);
    if (m.type === "error") failed(new Error(m.message));
    else done(m.result);
  } else if (m.method === "log.entryAdded" && m.params.level === "error") fault(`Firefox: ${at}: console: ${m.params.text}`);
});
const ask = (method, params = {}) => new Promise((done, failed) => { waiting.set(++number, { done, failed }); socket.send(JSON.stringify({ id: number, method, params })); });
await new Promise((done) => socket.on("open", done));
await ask("session.new", { capabilities: {} });
await ask("session.subscribe", { events: ["log.entryAdded"] });
const context = (await ask("browsingContext.getTree")).contexts[0].context;
const run = async (expression) => (await ask("script.evaluate", { expression, target: { context }, awaitPromise: true })).result?.value;
async function until(expression) {
  for (let i = 0; i < 300; i++) { if (await run(expression)) return true; await new Promise((f) => setTimeout(f, 100)); }
  return fault(`Firefox: ${at}: waited in vain`);
}
await ask("browsingContext.navigate", { context, url: server.address, wait: "complete" });
await until('document.querySelector("main")?.dataset.screen !== undefined');
let looked = 0;
for (const [width, height] of WIDTHS) {
  await ask("browsingContext.setViewport", { context, viewport: { width, height } });
  for (const name of SCREENS) {
    at = `${name || "home"}-${width}`;
    await run(`location.hash = ${JSON.stringify(name)}`);
    await until(`document.querySelector("main").dataset.screen === ${JSON.stringify(name.split("/")[0])}`);
    await new Promise((f) => setTimeout(f, 500));
    const wide = await run("document.documentElement.scrollWidth - innerWidth");
    if (wide > 0) fault(`Firefox: ${at}: ${wide} px wider than the window`);
    const { data } = await ask("browsingContext.captureScreenshot", { context, origin: "document" });
    writeFileSync(join(folder, `firefox-${at.replace("/", "-")}.png`), Buffer.from(data, "base64"));
    looked++;
  }
}
socket.close();
await new Promise((done) => { fox.on("exit", done); fox.kill("SIGTERM"); });
await server.stop();
rmSync(home, { recursive: true, force: true });
console.log(`  ${version}: ${looked} screens looked at`);
end("Firefox");

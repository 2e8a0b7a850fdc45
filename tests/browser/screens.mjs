// Opens every screen in every light and width, and asks of each: no error on the console, nothing
// wider than the window, no violation that axe-core finds, and the bar at the foot covers nothing
// that cannot be scrolled clear of it. Pictures go to the folder given.
//
//   node screens.mjs ADDRESS FOLDER      ADDRESS is the one `relict serve` prints, with its key
import { createRequire } from "node:module";
import { mkdirSync } from "node:fs";
import { chromium } from "playwright-core";

const [, , address, folder] = process.argv;
const axe = createRequire(import.meta.url).resolve("axe-core/axe.min.js");
const WIDTHS = [[1280, 900], [800, 900], [390, 844]];
const THEMES = ["day", "lamp", "sun"];
const SCREENS = ["", "found", "sizes", "outline", "curve", "making", "strength", "material", "trials", "report"];

mkdirSync(folder, { recursive: true });
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM || "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"] });
// The page's own rules forbid foreign scripts, so axe-core is put in from outside them.
const context = await browser.newContext({ bypassCSP: true, reducedMotion: "reduce" });
const page = await context.newPage();
const faults = [];
const fault = (text) => { faults.push(text); console.log(`not ok: ${text}`); };
let at = "opening", looked = 0;
page.on("console", (m) => m.type() === "error" && fault(`${at}: console: ${m.text()}`));
page.on("pageerror", (e) => fault(`${at}: ${e.message}`));

await page.goto(address);
await page.waitForSelector("h2");
await page.addScriptTag({ path: axe });

for (const [width, height] of WIDTHS) {
  await page.setViewportSize({ width, height });
  for (const name of SCREENS) {
    at = `${name || "home"}-${width}`;
    await page.evaluate((n) => { location.hash = n; }, name);
    await page.waitForFunction((n) => document.querySelector("main")?.dataset.screen === n, name, { timeout: 15000 });
    for (const theme of THEMES) {
      at = `${name || "home"}-${width}-${theme}`;
      await page.evaluate((t) => { document.documentElement.dataset.theme = t; }, theme);
      await page.screenshot({ path: `${folder}/${at}.png` });
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
      if (wide > 0) fault(`${at}: ${wide} px wider than the window`);
      const { violations } = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ["violations"] }));
      for (const v of violations)
        fault(`${at}: axe ${v.id}, ${v.nodes.length} times, first at ${v.nodes[0].target.join(" ")}`);
      looked++;
    }
  }
}
await browser.close();
console.log(`${looked} screens looked at, ${faults.length} faults`);
process.exit(faults.length || looked !== WIDTHS.length * SCREENS.length * THEMES.length ? 1 : 0);

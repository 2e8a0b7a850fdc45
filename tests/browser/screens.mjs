// Opens every screen in every light and width, and asks of each: no error on the console, nothing
// wider than the window, and no violation that axe-core finds. Pictures go to the folder given.
//
//   node screens.mjs PROGRAM PROJECT FOLDER
import { mkdirSync } from "node:fs";
import { launch, serve, open, go, axe, fault, faults, end } from "./browser.mjs";

const [, , program, project, folder] = process.argv;
const WIDTHS = [[360, 740], [800, 900], [1400, 900], [2560, 1300]];
const THEMES = ["day", "lamp", "sun"];
const SCREENS = (process.env.SCREENS ?? ",found,sizes,outline,curve,making,strength,material,trials,report,share").split(",");

mkdirSync(folder, { recursive: true });
const server = await serve(program, project), browser = await launch(), where = { at: "opening" };
const page = await open(browser, server.address, { where });
const table = Object.fromEntries(SCREENS.map((s) => [s || "home", { looked: 0, violations: 0, wider: 0 }]));
const before = () => faults.length;
for (const [width, height] of WIDTHS) {
  await page.setViewportSize({ width, height });
  for (const name of SCREENS) {
    const row = table[name || "home"];
    where.at = `${name || "home"}-${width}`;
    try {
      await go(page, name);
    } catch (e) { fault(`${where.at}: ${e.message.split("\n")[0]}`); continue; }
    await page.waitForTimeout(100);
    for (const theme of THEMES) {
      where.at = `${name || "home"}-${width}-${theme}`;
      await page.evaluate((t) => { document.documentElement.dataset.theme = t; }, theme);
      await page.screenshot({ path: `${folder}/${where.at}.png` });
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
      if (wide > 0) { row.wider++; fault(`${where.at}: ${wide} px wider than the window`); }
      row.violations += await axe(page, where.at);
      row.looked++;
    }
  }
}
const console_ = before();
await browser.close();
await server.stop();
console.log("screen       looked at  axe violations  wider than the window");
for (const [name, r] of Object.entries(table)) console.log(`${name.padEnd(12)} ${String(r.looked).padStart(9)} ${String(r.violations).padStart(15)} ${String(r.wider).padStart(22)}`);
console.log(`4 widths (${WIDTHS.map(([w]) => w).join(", ")}) x 3 lights; ${console_} faults with those on the console`);
if (Object.values(table).some((r) => r.looked !== WIDTHS.length * THEMES.length)) fault("not every screen was looked at");
end("screens");

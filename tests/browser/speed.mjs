// How fast the first screen stands, and how much comes over the line before anything in space; then
// how a list of 2,000 pieces scrolls. Prints figures with what is asked; never passes or fails.
//
//   node speed.mjs PROGRAM PROJECT [MANY]      MANY: a project of 2,000 pieces
import { launch, serve } from "./browser.mjs";

const [, , program, project, many] = process.argv;
const line = (what, got, asked, unit) => console.log(`  ${what.padEnd(46)} ${got.toFixed(got < 10 ? 2 : 0).padStart(8)} ${unit}   asked: ${asked} ${unit}${got > asked ? "   MISSED" : ""}`);
const browser = await launch();

async function first(file, name, deed) {
  const server = await serve(program, file), context = await browser.newContext({ viewport: { width: 1400, height: 900 } }), page = await context.newPage();
  let bytes = 0;
  page.on("response", async (r) => { bytes += Number((await r.allHeaders().catch(() => ({})))["content-length"] || 0); });
  const begun = performance.now();
  await page.goto(server.address);
  await page.waitForFunction(() => document.querySelector("main h2") && document.querySelector("main svg"), null, { timeout: 60000 });
  const stands = (performance.now() - begun) / 1000;
  await page.waitForTimeout(300);
  line(`${name}: first screen stands`, stands, 1, "s");
  line(`${name}: over the line`, bytes / 1000, 400, "kB");
  if (deed) await deed(page, name);
  await context.close();
  await server.stop();
}

// Frames while the page is scrolled from top to foot.
async function scrolling(page, name) {
  await page.evaluate(() => { location.hash = "found"; });
  await page.waitForFunction(() => document.querySelector("main")?.dataset.screen === "found", null, { timeout: 60000 });
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
}

await first(project, "tray");
if (many) await first(many, "2,000 pieces", scrolling);
await browser.close();

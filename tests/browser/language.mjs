// The screens in the test language, whose every word stands between marks. What stands outside them must
// have come from the program, letter for letter; all else was written in the code, in one language.
//
//   node language.mjs PROGRAM PROJECT
import { launch, serve, open, go, fault, end } from "./browser.mjs";

const [, , program, project] = process.argv;
const SCREENS = ["", "found", "found/A16", "trace/A16", "sizes", "outline", "curve", "making", "strength", "material", "trials", "report", "share", "find", "journal"];
const server = await serve(program, project), browser = await launch(), where = { at: "the test language" };
const page = await open(browser, server.address, { where });
// Everything the program says while the screens are gone through.
let heard = "";
const hearing = [];
page.on("response", (r) => {
  if (new URL(r.url()).pathname.startsWith("/api/") && !r.url().includes("/api/stream")) hearing.push(r.text().catch(() => "").then((t) => { heard += `\n${t.replaceAll("\\n", " ").replaceAll("\\\"", "\"")}`; }));
});
await page.goto(`${new URL(server.address).origin}/?lang=test`);
await page.waitForFunction(() => document.querySelector("main")?.dataset.screen !== undefined);

const SIGNS = new Set(["mm", "cm", "g", "kg", "N", "MPa", "px", "relict", "kB", "Nmm"]);
let texts = 0, marked = 0;
for (const name of SCREENS) {
  where.at = `the test language: ${name || "home"}`;
  await page.evaluate((n) => { location.hash = n; }, name);
  await page.waitForFunction((n) => document.querySelector("main")?.dataset.screen === n, name.split("/")[0], { timeout: 60000 });
  await page.waitForTimeout(400);
  // whatever can be unrolled, once
  for (const button of await page.locator('main button[aria-expanded="false"]:visible').all().then((l) => l.slice(0, 25)))
    await button.click({ timeout: 2000 }).catch(() => {});
  await page.waitForTimeout(300);
  const found = await page.evaluate(() => {
    const count = (text, sign) => text.split(sign).length, out = [], labels = [], walk = document.createTreeWalker(document.body, NodeFilter.SHOW_ALL);
    for (let n = walk.nextNode(); n; n = walk.nextNode()) {
      if (n.nodeType === 3 && n.data.trim() && !n.parentElement.closest("script, style, noscript")) {
        // a sentence with numbers that can be changed is broken by their fields: it goes on to its mark
        const last = out[out.length - 1] ?? "";
        if (count(last, "«") > count(last, "»")) out[out.length - 1] = `${last} ${n.data}`;
        else out.push(n.data);
      }
      if (n.nodeType === 1) for (const a of ["aria-label", "title", "alt", "placeholder"]) if (n.hasAttribute(a)) labels.push(n.getAttribute(a));
    }
    return out.concat(labels);
  });
  await Promise.all(hearing);
  const said = heard.normalize().replace(/\s+/g, " ");
  for (let text of new Set(found)) {
    texts++;
    const whole = text;
    while (/«[^«»]*»/.test(text)) text = text.replace(/«[^«»]*»/g, "|");
    if (text !== whole) marked++;
    for (const bit of text.split(/[^\p{L} '’-]+|(?<=^|[ ])\p{L}(?=$|[ \d])/u).map((t) => t.trim()).filter((t) => /\p{L}{2,}/u.test(t) && !SIGNS.has(t)))
      if (!said.includes(bit.replace(/\s+/g, " "))) fault(`${where.at}: "${bit}" in "${whole.trim().slice(0, 120)}" is in no table of words`);
  }
}
await browser.close();
await server.stop();
console.log(`the test language: ${texts} texts on ${SCREENS.length} screens, ${marked} from the table of words, the rest as the program said them`);
end("the test language");

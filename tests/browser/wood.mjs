// The wood page: opened from the screen, used after the program is gone, its file brought home.
//
//   node wood.mjs PROGRAM PROJECT FOLDER
import { mkdirSync, readFileSync } from "node:fs";
import { launch, serve, open, go, axe, fault, end } from "./browser.mjs";

const [, , program, project, folder] = process.argv;
mkdirSync(folder, { recursive: true });
let server = await serve(program, project);
const browser = await launch(), where = { at: "wood" };
const page = await open(browser, server.address, { width: 390, height: 844, hasTouch: true, where });
await go(page, "material");
const link = page.getByRole("link", { name: "Open the wood page" });
const [wood] = await Promise.all([page.context().waitForEvent("page"), link.click()]);
wood.on("console", (m) => m.type() === "error" && fault(`wood page: console: ${m.text()}`));
wood.on("pageerror", (e) => fault(`wood page: ${e.message}`));
await wood.setViewportSize({ width: 390, height: 844 });
await wood.waitForLoadState();

// Out of reach: the program has ended and there is no network.
await page.close();
await server.stop();
await wood.context().setOffline(true);

const told = async () => [await wood.locator("#yields").textContent(), await wood.locator("#harms").textContent()];
await wood.getByLabel(/^Girth/).fill("152");
await wood.getByLabel("What stands there").selectOption({ label: "living tree" });
const [yields, harms] = await told();
console.log(`girth 152 cm, a living tree: ${yields} | ${harms}`);
if (!/^It (yields|does not yield)/.test(yields)) fault(`no sentence says what it yields: ${yields}`);
if (!/\w{4}/.test(harms)) fault("no sentence says what it harms");
await wood.getByLabel(/^Girth/).fill("24");
if ((await told())[0] === yields) fault("a thin stem is told the same as a thick one");
await wood.getByLabel(/^Girth/).fill("152");
await axe(wood, "wood page");
await wood.screenshot({ path: `${folder}/wood-page-390.png`, fullPage: true });
await wood.getByLabel("Mark chalked on it").fill("W7");
await wood.getByLabel("Species").fill("Tilia cordata");
await wood.getByLabel(/^Clean length/).fill("310");
const [saved] = await Promise.all([wood.waitForEvent("download"), wood.getByRole("button", { name: "Save" }).tap?.() ?? wood.getByRole("button", { name: "Save" }).click()]);
const file = `${folder}/${saved.suggestedFilename()}`;
await saved.saveAs(file);
const stem = JSON.parse(readFileSync(file, "utf8"));
if (stem.id !== "W7" || stem.girth !== 1520 || stem.clear_length !== 3100) fault(`the file says ${JSON.stringify(stem)}`);

// Home again: the program runs anew and the file is brought in.
server = await serve(program, project);
const home = await open(browser, server.address, { where });
where.at = "bringing the stem in";
await go(home, "material");
await home.locator('input[type="file"]').first().setInputFiles(file);
// the page draws itself anew with the stem in its list
await home.locator("li", { hasText: "W7" }).first().waitFor({ timeout: 60000 }).catch(() => fault("the stem W7 is not in the list"));
await home.screenshot({ path: `${folder}/wood-brought-home.png` });
await browser.close();
await server.stop();
end("wood page");

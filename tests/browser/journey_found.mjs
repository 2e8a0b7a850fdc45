// Found, as part of the whole job: rows set aside are mended, and a piece is traced on its photo.
import { join } from "node:path";
import { chosen } from "./hands.mjs";

export async function found({ page, hand, button, deed, until, screenIs, entries, demo, to, way }) {
  await deed("mend bad rows", async () => {
    await to("found", "Found");
    for (const [piece, text] of [["A06", "120.5"], ["A11", "155.5"]]) {
      const row = page.locator("form.aside-row").filter({ hasText: piece }).first();
      await row.waitFor({ timeout: 15000 });
      await hand.write(row.getByRole("textbox", { name: "length_mm" }), text);
      await hand.press(button("Take the row in", row));
      await until(`${piece} taken in`, async () => (await entries("piece")).some((p) => p.id === piece), 20000);
    }
  });

  await deed("add a photo", async () => {
    await page.evaluate(() => { location.hash = "trace/A16"; });
    await screenIs("trace");
    await hand.press(button("Add a photo or a film"));
    const form = page.locator("form", { has: page.locator("#photo-file") });
    if (way === "keyboard") {
      await hand.reach(form.locator("#photo-file"));
      await chosen(page, join(demo, "files", "A16.png"), () => page.keyboard.press("Enter"));
    } else await form.locator("#photo-file").setInputFiles(join(demo, "files", "A16.png"));
    await hand.write(form.locator("#photo-bar"), "50");
    await hand.press(button("Add", form));
    await until("the photo", async () => (await entries("source")).length === 1, 20000);
  });

  await deed("trace", async () => {
    await page.evaluate(() => { location.hash = "found"; });
    await screenIs("found");
    await page.evaluate(() => { location.hash = "trace/A16"; });
    await screenIs("trace");
    const photo = page.locator(".table-top svg").first();
    await photo.waitFor();
    await until("the photo's size", () => photo.getAttribute("viewBox"), 10000);
    // two ends of the bar, then the edge
    const put = async (x, y) => {
      if (way !== "keyboard") {
        const box = await photo.boundingBox();
        return hand.point(photo, x * box.width / 480, y * box.height / 320);
      }
      await hand.write(page.locator("#typed-x"), String(x));
      await hand.write(page.locator("#typed-y"), String(y));
      await page.keyboard.press("Enter");
    };
    await put(40, 300);
    await put(140, 300);
    for (const [x, y] of [[100, 60], [250, 50], [400, 70], [390, 220], [240, 240], [110, 230]]) await put(x, y);
    await until("millimetres", () => page.getByText(/ by .* mm, 6 points/).first().isVisible(), 15000);
    await hand.press(button("Keep the outline"));
    await until("the outline", async () => (await entries("outline")).some((o) => o.body.piece === "A16"), 15000);
    await screenIs("found");
  });
}

// Three ways to use a page: by mouse, by keyboard alone, by finger. Each knows the same few deeds.
// By keyboard a thing is reached with Tab as a person would, never by setting the focus.
// The browser must be told to hand the choice over before it is asked for.
export async function chosen(page, path, act) {
  const waited = page.waitForEvent("filechooser", { timeout: 20000 });
  await page.waitForTimeout(300);
  await act();
  await (await waited).setFiles(path);
}

export const mouse = (page) => ({
  name: "mouse",
  press: (thing) => thing.click(),
  write: async (thing, text) => { await thing.click(); await thing.fill(text); },
  choose: (thing, option) => thing.selectOption(option),
  file: async (thing, path) => {
    await chosen(page, path, () => thing.click());
  },
  leave: () => page.mouse.click(2, 2),
  point: async (thing, x, y) => thing.click({ position: { x, y } }),
});

export const finger = (page) => ({
  ...mouse(page),
  name: "finger",
  press: (thing) => thing.tap(),
  write: async (thing, text) => { await thing.tap(); await thing.fill(text); },
  file: async (thing, path) => {
    await chosen(page, path, () => thing.tap());
  },
  point: async (thing, x, y) => thing.tap({ position: { x, y } }),
});

export const keyboard = (page) => {
  // Tab until it has the focus; from where the focus is now, round once.
  const reach = async (thing) => {
    let handle = await thing.elementHandle({ timeout: 15000 });
    // the page may be drawn anew on the way, as when news comes
    const here = () => handle.evaluate((e) => (e.isConnected ? document.activeElement === e : null));
    for (let i = 0; i < 900; i++) {
      const there = await here();
      if (there) return;
      if (there === null) handle = await thing.elementHandle({ timeout: 15000 });
      await page.keyboard.press("Tab");
    }
    throw new Error(`${await thing.evaluate((e) => e.outerHTML.slice(0, 120))} is not reached by Tab`);
  };
  return {
    name: "keyboard",
    reach,
    press: async (thing) => {
      await reach(thing);
      await page.keyboard.press("Enter");
    },
    write: async (thing, text) => {
      await reach(thing);
      await page.keyboard.press("Control+A");
      await page.keyboard.type(text);
    },
    // A list is gone through by its first letters and the arrows.
    choose: async (thing, option) => {
      await reach(thing);
      const labels = await thing.evaluate((s) => [...s.options].map((o) => [o.value, o.label.trim()]));
      const at = labels.findIndex(([v, l]) => (option.label !== undefined ? l === option.label : v === (option.value ?? option)));
      if (at < 0) throw new Error(`there is no ${JSON.stringify(option)} to choose`);
      await page.keyboard.press("Home");
      for (let i = 0; i < at; i++) await page.keyboard.press("ArrowDown");
    },
    file: async (thing, path) => {
      await reach(thing);
      await chosen(page, path, () => page.keyboard.press("Enter"));
    },
    leave: () => page.keyboard.press("Tab"),
  };
};

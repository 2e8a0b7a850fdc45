// The page: who is here, which screen, and what changed. Screens are functions that return one
// element; the address after the # says which.
import { el, empty } from "./dom.js";
import { ask, join, openStream, listen, tell, mayWrite } from "./door.js";
import { say } from "./words.js";
import { told } from "./sentence.js";
import { working } from "./working.js";
import { trestle } from "./trestle.js";
import { step } from "./step.js";
import { found } from "./found.js";

// Screens of single steps come when asked for, so that the first one is light; a step without one
// of its own has the plain one.
const screens = {
  sizes: () => import("./sizes.js"), outline: () => import("./outline.js"), curve: () => import("./curve.js"),
  making: () => import("./making.js"), strength: () => import("./strength.js"),
  material: () => import("./material.js"), trials: () => import("./trials.js"), report: () => import("./report.js"),
  share: () => import("./share.js"),
};

async function screenOf(project, name) {
  if (name === "") return trestle(project);
  if (name === "found") return found(project);
  if (!screens[name]) return step(project, name);
  return (await screens[name]()).screen(project);
}

const page = el("main", { id: "page", tabindex: "-1" });
const notice = el("div", { "aria-live": "polite" });
let head = el("header");

function themeChooser() {
  const pick = el("select", { "aria-label": say("theme.label"), onchange: () => {
    localStorage.setItem("theme", pick.value);
    document.documentElement.dataset.theme = pick.value;
  } }, ["day", "lamp", "sun"].map((t) => el("option", { value: t, selected: document.documentElement.dataset.theme === t }, say(`theme.${t}`))));
  return el("span", {}, pick);
}

function makeHead(project) {
  return el("header", { class: "head" },
    el("h1", {}, el("a", { href: "/#", style: "color:inherit;text-decoration:none" }, project.title || "relict")),
    mayWrite() ? el("button", { class: "plain", onclick: undo }, say("do.undo")) : el("small", {}, say("told.read")),
    themeChooser());
}

async function undo() {
  try {
    await tell("undo", {});
  } catch (e) {
    empty(notice).append(told("not", `${e.message} ${e.remedy}`));
  }
}

let drawing = 0;
async function draw(keepFocus) {
  const turn = ++drawing, name = location.hash.slice(1);
  try {
    const project = await ask("project");
    const screen = await screenOf(project, name);
    if (turn !== drawing) return; // a later one is under way
    const focused = keepFocus && document.activeElement && document.activeElement.id;
    const fresh = makeHead(project);
    head.replaceWith(fresh);
    head = fresh;
    empty(page).append(screen);
    page.dataset.screen = name; // which screen stands here, for those who wait for it
    document.title = name ? `${say(`step.${name}`)}: ${project.title}` : project.title || "relict";
    if (!keepFocus) {
      page.focus({ preventScroll: true });
      window.scrollTo(0, 0);
    } else if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
  } catch (e) {
    empty(page).append(el("div", { class: "leaf" }, told("not", `${e.message} ${e.remedy || ""}`)));
  }
}

async function begin() {
  document.documentElement.dataset.theme = localStorage.getItem("theme") || "day";
  document.body.append(head, notice, working(), page);
  try {
    await join();
  } catch (e) {
    notice.append(told("not", e.message));
  }
  await draw(true);
  openStream();
  listen("changed", () => { if (!document.activeElement || !document.activeElement.closest("form")) draw(true); });
  listen("end", () => draw(true));
  listen("lost", () => empty(notice).append(el("p", { class: "told" }, say("told.lost"))));
  listen("back", () => empty(notice));
  addEventListener("hashchange", () => draw(false));
}

begin();

// The door to the program: asking, telling, and the stream of news.
//
// News that pages listen to with `listen(name, f)`:
//   progress {step, what, share?}   something is being worked out
//   end      {done, report?, message?, remedy?}
//   changed  {revision}             somebody entered something
//   lost, back                      the connection
import { say } from "./words.js";

export class Refused extends Error {
  constructor(status, told) {
    super(told.message || say("told.lost"));
    this.status = status;
    this.remedy = told.remedy || "";
    this.column = told.column || "";
    this.code = told.code || "";
    this.present = told.present; // when two changed one thing: what stands there now
  }
}

async function answer(response) {
  const type = response.headers.get("Content-Type") || "";
  const body = type.includes("json") ? await response.json() : await response.text();
  if (!response.ok) throw new Refused(response.status, (body && body.error) || {});
  return body;
}

export async function ask(path, query = {}) {
  const words = new URLSearchParams(query).toString();
  return answer(await fetch(`/api/${path}${words ? `?${words}` : ""}`));
}

export async function tell(path, body = {}, signal = undefined) {
  return answer(await fetch(`/api/${path}`, {
    method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body), signal,
  }));
}

export async function send(path, query, bytes) {
  const words = new URLSearchParams(query).toString();
  return answer(await fetch(`/api/${path}?${words}`, {
    method: "PUT", headers: { "Content-Type": "application/octet-stream" }, body: bytes,
  }));
}

// The key stands once in the address, after the #; it is swapped for a cookie and taken out.
export async function join() {
  const found = location.hash.match(/^#key=([0-9a-f]{32})$/);
  if (found) {
    history.replaceState(null, "", location.pathname);
    const { write, own } = await tell("join", { token: found[1] });
    sessionStorage.setItem("write", write ? "1" : "");
    sessionStorage.setItem("own", own ? "1" : "");
  }
}
// This page has entered something itself: draw what stands there anew, where one was.
export const again = () => dispatchEvent(new Event("again"));
export const owns = () => sessionStorage.getItem("own") !== "";
export const mayWrite = () => sessionStorage.getItem("write") !== "";

const hub = new EventTarget();
export function listen(name, f) {
  const g = (e) => f(e.detail);
  hub.addEventListener(name, g);
  return () => hub.removeEventListener(name, g);
}
const spread = (name, detail) => hub.dispatchEvent(new CustomEvent(name, { detail }));

export function openStream() {
  const source = new EventSource("/api/stream");
  for (const name of ["progress", "end", "changed"])
    source.addEventListener(name, (e) => spread(name, JSON.parse(e.data)));
  source.onerror = () => spread("lost");
  source.onopen = () => spread("back");
}

// Of the entries of a kind those that were not withdrawn.
export const alive = (list) => list.filter((e) => !e.gone);

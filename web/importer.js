// Bringing in a file: by choosing or dropping. The program proposes what each heading means.
import { el, empty } from "./dom.js";
import { send, mayWrite } from "./door.js";
import { say } from "./words.js";
import { told } from "./sentence.js";

export function importer(done) {
  const place = el("div");
  const input = el("input", { type: "file", id: "bring", class: "hidden", disabled: !mayWrite(), onchange: () => bring(input.files[0]) });
  const button = el("button", { class: "main", disabled: !mayWrite(), onclick: () => input.click() }, say("do.import"));

  async function bring(file) {
    if (!file) return;
    empty(place);
    try {
      const report = await send("import", { name: file.name }, await file.arrayBuffer());
      place.append(el("p", {}, report.sentence || say("told.saved")));
      for (const row of report.aside || []) place.append(told("not", row.sentence));
      if (done) done(report);
    } catch (e) {
      place.append(told("not", `${e.message} ${e.remedy || ""}`));
    }
  }

  const box = el("div", {}, el("label", { for: "bring", class: "hidden" }, say("do.import")), input, button, place);
  box.addEventListener("dragover", (e) => e.preventDefault());
  box.addEventListener("drop", (e) => { e.preventDefault(); bring(e.dataTransfer.files[0]); });
  return box;
}

// Making elements. Text always goes in as text; nothing here parses markup, and no other file may.

// el("p", {class: "second", onclick: f}, "text", child, ...)
export function el(name, attributes = {}, ...children) {
  const node = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (key === "style") node.style.cssText = value; // an attribute would be refused by the page's rules
    else if (key.startsWith("on")) node.addEventListener(key.slice(2), value);
    else node.setAttribute(key, value === true ? "" : String(value));
  }
  append(node, children);
  return node;
}

export function append(node, children) {
  for (const child of children.flat(Infinity))
    if (child !== null && child !== undefined && child !== false)
      node.append(child instanceof Node ? child : document.createTextNode(String(child)));
  return node;
}

const SVG = "http://www.w3.org/2000/svg";
export function svg(name, attributes = {}, ...children) {
  const node = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes))
    if (key === "style") node.style.cssText = value;
    else node.setAttribute(key, String(value));
  append(node, children);
  return node;
}

// Draws a part of the page anew; what had the focus in it has it again, if it has a name.
export function keepingFocus(draw) {
  const id = document.activeElement?.id;
  draw();
  if (id && document.activeElement?.id !== id) document.getElementById(id)?.focus({ preventScroll: true });
}

export function empty(node) {
  node.replaceChildren();
  return node;
}

// A picture the program drew, as live elements. It comes from our own writer through our own door;
// it is parsed as XML and anything that is not a drawing element is left out.
const DRAWN = new Set(["svg", "g", "path", "circle", "ellipse", "line", "polyline", "polygon", "rect", "text",
  "tspan", "title", "desc", "defs", "pattern", "clipPath", "use"]);
export function drawn(text) {
  const root = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  const clean = (node) => {
    for (const child of [...node.children]) {
      if (!DRAWN.has(child.localName)) child.remove();
      else clean(child);
    }
    for (const a of [...node.attributes])
      if (a.name.startsWith("on") || (a.name.endsWith("href") && !a.value.startsWith("#"))) node.removeAttribute(a.name);
  };
  if (root.localName !== "svg") return svg("svg");
  clean(root);
  return document.importNode(root, true);
}

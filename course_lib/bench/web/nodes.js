// The one way in which pages are drawn: `node` says what is to stand on the page, `draw` changes what stands there into it.
// The same key keeps the same element with its focus, its caret, what was typed. Text goes in as text only, so that nothing
// that is read can become markup.

/** An element that is to be. inside: texts, nodes, lists of both; null, undefined, false and "" are nothing.
 *  traits: attributes, where null and false take one away; functions and `checked`, `open` are properties. Besides these
 *    key: what it is known by beside its siblings; its place, where left out. A list that changes needs one for each.
 *    holds: what stands in a select, a textarea, a line of text. start: properties of a new element, the learner's from then on.
 *    sign: as long as it stays the same, what stands inside is not looked at again. */
export const node = (tag, traits = {}, ...inside) => ({ tag, traits, inside });

const OWN = new Set(["key", "holds", "start", "sign"]);

function* wishes(inside, under = "") {
  for (const [place, each] of inside.entries()) {
    if (each === null || each === undefined || each === false || each === "") continue;
    if (Array.isArray(each)) yield* wishes(each, `${under}${place} `);
    else if (each.tag) yield [`${each.tag} ${under}${each.traits.key ?? place}`, each];
    else yield [`text ${under}${place}`, String(each)];
  }
}

export function set(element, name, value) {
  if (name === "checked" || name === "open" || typeof value === "function") {
    if (element[name] !== value) element[name] = value;
  } else if (value === null || value === undefined || value === false) {
    element.removeAttribute(name);
  } else if (element.getAttribute(name) !== String(value)) {
    element.setAttribute(name, value === true ? "" : value);
  }
}

function fill(element, { traits, inside }, fresh) {
  for (const [name, value] of Object.entries(traits)) if (!OWN.has(name)) set(element, name, value);
  if (traits.sign === undefined || traits.sign !== element.drawnFrom) put(element, inside);
  element.drawnFrom = traits.sign;
  if (fresh) Object.assign(element, traits.start); // after the options of a select are there
  if (traits.holds === undefined) return;
  if (element.value !== traits.holds) element.value = traits.holds;
  if (element.selectedIndex < 0) element.value = "";
}

function put(parent, inside) {
  const wanted = new Map(wishes(inside));
  const kept = new Map();
  for (const child of Array.from(parent.childNodes)) {
    if (wanted.has(child.drawnAs)) kept.set(child.drawnAs, child);
    else child.remove();
  }
  let next = parent.firstChild;
  for (const [key, wish] of wanted) {
    const text = typeof wish === "string";
    const made = kept.get(key) ?? (text ? document.createTextNode(wish) : document.createElement(wish.tag));
    made.drawnAs = key;
    if (made === next) next = next.nextSibling;
    else parent.insertBefore(made, next);
    if (!text) fill(made, wish, !kept.has(key));
    else if (made.data !== wish) made.data = wish;
  }
}

/** Make `inside` what stands in `root`. An element that had the focus and is still there keeps it, wherever it has moved. */
export function draw(root, ...inside) {
  const focused = root.contains(document.activeElement) ? document.activeElement : null;
  put(root, inside);
  if (focused?.isConnected && document.activeElement !== focused) focused.focus({ preventScroll: true });
}

export const lines = (texts) => texts.map((text) => node("p", {}, text));
export const listed = (tag, texts, traits = {}) => node(tag, traits, texts.map((text) => node("li", {}, text)));

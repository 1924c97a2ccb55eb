// A page and its kernel: the whole sheet comes once, then only what has changed; the notebook's own keys stay out.

import { draw } from "./nodes.js";

/** `before` changed as a patch says: null takes away, all else replaces, objects are gone into. Source: RFC 7396, section 2. */
function merged(before, patch) {
  if (patch === null || typeof patch !== "object" || Array.isArray(patch)) return patch;
  const after = before !== null && typeof before === "object" && !Array.isArray(before) ? { ...before } : {};
  for (const [name, value] of Object.entries(patch)) {
    if (value === null) delete after[name];
    else after[name] = merged(after[name], value);
  }
  return after;
}

/** Takes in what the kernel sends about the sheet; where a change was missed the whole is asked for. */
function keep(model, { changed, whole }) {
  if (whole) model.set("whole", whole);
  else if (changed?.turn === model.get("whole").turn + 1) model.set("whole", merged(model.get("whole"), changed));
  else if (changed) model.send({ do: "whole" });
}

/** Keys of the notebook must not fire in our controls (D twice would delete the cell), but saving must. */
function keepKeys(root) {
  const mark = "data-lm-suppress-shortcuts";
  const focus = (event) => event.target.setAttribute(mark, "true");
  const key = (event) => {
    const target = event.target;
    const save = (event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "s";
    if (!save || !root.contains(target)) return;
    target.removeAttribute(mark);
    setTimeout(() => target.setAttribute(mark, "true"));
  };
  root.addEventListener("focusin", focus);
  globalThis.addEventListener("keydown", key, true);
  return () => globalThis.removeEventListener("keydown", key, true);
}

/** The widget of a page. open(root, model) draws it and gives what to do: `changed` when the sheet has changed, `told` with what else
 *  the kernel sends, `lineChanged` when the line to it was lost or came back, `close` at the end. */
export const widget = (tag, name, open) => ({
  initialize({ model }) {
    model.on("msg:custom", (message) => keep(model, message));
  },
  render({ model, el }) {
    const root = document.createElement(tag);
    root.className = name;
    el.append(root);
    const { changed, told, lineChanged, close } = open(root, model);
    const heard = Object.entries({ "change:whole": changed, "msg:custom": told, comm_live_update: lineChanged });
    const used = heard.filter(([, act]) => act);
    for (const [event, act] of used) model.on(event, act);
    const letGo = keepKeys(root);
    return () => {
      for (const [event, act] of used) model.off(event, act);
      letGo();
      close?.();
    };
  },
});

/** A page that asks one thing and says in its line of status what comes of it. open(page) gives the function that says what stands on
 *  the page for a sheet; after(page, before, now, within) is called when the sheet has changed, to put the focus where the change is;
 *  within: whether the page had the focus.
 *  page: its root, an id for names, what is said, `send(message, words)` to the kernel with what is said meanwhile, `show()`. */
export const asking = (tag, name, open, after = () => {}) => widget(tag, name, (root, model) => {
  let sheet = model.get("whole");
  const page = { root, id: Math.random().toString(36).slice(2), said: "" };
  page.show = () => draw(root, view(sheet));
  page.send = (message, words = "") => {
    model.send(message);
    if (page.said === words) return;
    page.said = words;
    page.show();
  };
  const view = open(page);
  page.show();
  return {
    told: (message) => {
      if (!message.say) return;
      page.said = message.say;
      page.show();
    },
    changed: () => {
      const [before, within] = [sheet, root.contains(document.activeElement)];
      sheet = model.get("whole");
      page.said = "";
      page.show();
      after(page, before, sheet, within);
    },
  };
});

// The open bay: what is chosen stays on the page, and one press of a button sends all of it in one message.
// Every sentence comes from Python.

import { listed, node, set } from "./nodes.js";
import { asking } from "./page.js";

const NAMES = ["unit", "family", "lesson", "difficulty"];

const choice = (name, words, choices) => node("label", { key: name },
  node("span", {}, words[name]),
  node("select", { name },
    node("option", { value: "" }, words.any),
    choices.map(([value, text]) => node("option", { key: value, value }, text))));

export default asking("section", "bay", ({ root, send }) => (sheet) => {
  const press = (act) => () => {
    const chosen = NAMES.map((name) => [name, root.querySelector(`select[name="${name}"]`).value]);
    if (!sheet.busy) send({ do: act, ...Object.fromEntries(chosen) });
  };
  const button = (name, words, traits = {}) => node("button", { key: name, name, type: "button", onclick: press(name), ...traits }, words);
  set(root, "aria-label", sheet.words.head);
  return [
    node("h3", {}, sheet.words.head),
    node("div", { class: "bay-row" }, NAMES.map((name) => choice(name, sheet.words, sheet[name]))),
    node("p", {}, sheet.words.note),
    button("next", sheet.words.next, { "aria-disabled": String(sheet.busy) }),
    sheet.begun && button("again", sheet.words.again),
    node("p", { role: "status", class: "bay-say" }, sheet.say),
    listed("ul", sheet.plan),
  ];
});

// How the practice of a lesson stands, and the button that opens it once more. Every sentence comes from Python.

import { node } from "./nodes.js";
import { asking } from "./page.js";
import { table } from "./tables.js";

const press = (kind, words, onclick, traits = {}) => node("button", { key: kind, type: "button", class: kind, onclick, ...traits }, words);

const open = (page) => {
  let sure = false;
  const turn = (now, focus) => () => {
    sure = now;
    page.show();
    page.root.querySelector(focus).focus();
  };
  return ({ caption, heads, rows, labels, begun }) => {
    sure = sure && begun;
    const status = node("p", { key: "status", role: "status", class: "status", tabindex: "-1" }, sure ? labels.sure : page.said);
    const ask = press("send", labels.again, turn(true, ".no"), { disabled: !begun });
    const answers = [status, press("send yes", labels.yes, () => page.send({ again: true })), " ", press("no", labels.no, turn(false, ".send"))];
    return [
      table({ caption, columns: heads, rows: rows.map((cells) => ({ cells })) }),
      sure ? answers : [ask, status],
    ];
  };
};

// The button that was pressed is gone by then: the focus goes to the line that says what it did.
const done = (page, before, now, within) => {
  if (!within || !before.begun || now.begun) return;
  page.said = now.labels.done;
  page.show();
  page.root.querySelector(".status").focus();
};

export default asking("div", "lesson-item", open, done);

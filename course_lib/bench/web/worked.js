// One step of a worked case: it asks, sends back what the learner committed to, and shows what opened. Every sentence comes from Python.

import { choiceGroup, picked } from "./controls.js";
import { listed, node } from "./nodes.js";
import { asking } from "./page.js";
import { readings } from "./tables.js";

const paragraph = (kind, lead, text) => node("p", { class: kind }, lead && [node("strong", {}, lead), " "], text);

const OPENED = {
  table: (block) => readings(block.rows, block.columns, {}, block.caption),
  heading: (block) => node("h4", {}, block.text),
  picture: (block) => node("img", { src: block.src, alt: block.alt }),
  caution: (block) => paragraph("caution", block.lead, block.text),
  list: (block) => [block.lead && paragraph("text", block.lead), listed("ul", block.items)],
  text: (block) => paragraph("text", block.lead, block.text),
};

const question = (page, sheet) => {
  const group = (name, legend, texts) => choiceGroup("radio", `${name}-${page.id}`, {
    traits: { key: name }, legend, choices: [...texts.entries()],
  });
  const at = (name) => Number(picked(page.root, `${name}-${page.id}`)[0] ?? -1);
  const words = () => page.root.querySelector("textarea")?.value ?? "";
  const press = () => page.send(
    { choice: at("choice"), sureness: sheet.sureness[at("sure")] ?? "", words: words() },
    sheet.labels.waiting,
  );
  return [
    sheet.choices.length
      ? [group("choice", sheet.question, sheet.choices), group("sure", sheet.labels.sureness, sheet.sureness)]
      : node("label", { class: "words" }, sheet.question, node("textarea", { rows: "3" })),
    node("button", { type: "button", onclick: press }, sheet.labels.open),
    node("p", { role: "status", class: "status" }, page.said),
  ];
};

const opened = (sheet) => [
  node("p", { class: "asked" }, sheet.question),
  node("p", { class: "answered", tabindex: "-1" }, sheet.answered),
  sheet.blocks.map((block) => (OPENED[block.kind] ?? OPENED.text)(block)),
];

const view = (page) => (sheet) => {
  if (sheet.waits) return node("p", { class: "waits" }, sheet.waits);
  return sheet.answered ? opened(sheet) : question(page, sheet);
};

export default asking("div", "worked-step", view, ({ root }, before, now) => {
  if (now.answered && !before.answered) root.querySelector(".answered").focus();
});

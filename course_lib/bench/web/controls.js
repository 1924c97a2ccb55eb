// Groups of radios or checks under one legend, the same on every page.

import { node } from "./nodes.js";

/** type: "radio" or "checkbox"; choices: [value, words]; of(value): traits of the input of a choice, such as what is checked. */
export const choiceGroup = (type, name, { traits = {}, legend, choices, of = () => ({}) }) => node("fieldset", traits,
  node("legend", {}, legend),
  choices.map(([value, words]) => node("label", { key: value },
    node("input", { type, name, value, ...of(value) }),
    node("span", {}, words))));

/** Values of the inputs of one name that are checked. */
export const picked = (root, name) => [...root.querySelectorAll(`input[name="${name}"]:checked`)].map((box) => box.value);

// Fields that are filled in. Each kind draws what stands in it and tells the page what was changed; no rule lives here.

import { choiceGroup } from "./controls.js";
import { node } from "./nodes.js";

/** One field. at: the field, the page, its id on the page, what stands in it. */
export function fieldBox(field, page) {
  const at = { field, page, id: `${page.id}-${field.name.replace(".", "-")}`, value: page.value(field) };
  return node("div", { key: field.name, class: `stack ${field.kind} ${field.name.replace(".", "-")}`, "data-field": field.name },
    FIELD_KINDS[field.kind](at),
    field.asked && node("p", { id: `${at.id}-asked`, class: "asked" }, field.asked),
    field.note && node("p", { class: "mode" }, field.note));
}

const fieldOf = (event) => event.target.closest("[data-field]");
const selected = (box) => [...box.querySelectorAll("select")].map((select) => select.value);

const asks = (at) => ({
  "aria-invalid": at.field.asked ? "true" : null,
  "aria-describedby": at.field.asked ? `${at.id}-asked` : null,
});

/** Options and groups of options, in the order in which each is first met. */
function options(choices, blank) {
  const groups = new Map();
  const parts = [node("option", { key: "", value: "" }, blank)];
  for (const [value, words, group] of choices) {
    const option = node("option", { key: value, value }, words);
    if (!group) parts.push(option);
    else if (groups.has(group)) groups.get(group).push(option);
    else {
      groups.set(group, [option]);
      parts.push(node("optgroup", { key: group, label: group }, groups.get(group)));
    }
  }
  return parts;
}

/** A select under its label. holds: what is chosen; left out where that is the learner's alone. */
function selectBox(at, { key, id, label, holds, choices, traits = {}, onchange = null, blank = at.field.blank }) {
  const sign = JSON.stringify([choices, blank]);
  return node("div", { key, class: "field" },
    node("label", { for: id }, label),
    node("select", { id, disabled: at.field.locked, ...traits, onchange, holds, sign }, options(choices, blank)));
}

const all = (at) => [...at.page.choices(at.field.choices), ...at.field.extra];
const room = (at) => Math.max(1, Math.min(at.value.length + (at.field.locked ? 0 : 1), at.field.most));
const places = (at) => Array.from({ length: room(at) }, (_, place) => place);

/** One select for each name chosen, and one more while there is room. */
const selectsField = (at) => places(at).map((place) => selectBox(at, {
  key: place,
  id: `${at.id}-${place}`,
  label: at.field.labels[place],
  holds: at.value[place] ?? "",
  choices: all(at),
  traits: place === 0 ? asks(at) : {},
  blank: place === 0 ? at.field.blank : "none",
  onchange: (event) => at.page.change(at.field.name, [...new Set(selected(fieldOf(event)).filter(Boolean))]),
}));

/** Suspects, each with the finding that speaks against it. */
function pairsField(at) {
  const onchange = (event) => {
    const rows = [...fieldOf(event).querySelectorAll(".pair")].map(selected);
    at.page.change(at.field.name, rows.filter(([cause]) => cause).map(([cause, found]) => [cause, found ?? ""]));
  };
  return places(at).map((place) => {
    const [cause, found] = at.value[place] ?? ["", ""];
    const id = `${at.id}-${place}`;
    return node("div", { key: place, class: "pair" },
      selectBox(at, { key: "cause", id, label: at.field.labels[place], holds: cause, choices: all(at), blank: "none", onchange }),
      cause && selectBox(at, {
        key: "finding", id: `${id}-finding`, label: at.field.labels.at(-1), holds: found, choices: at.page.choices("evidence"), onchange,
      }));
  });
}

/** Cards in an order: chosen from a list, moved and taken out by buttons. */
function cardsField(at) {
  const labels = new Map(all(at));
  const change = (names, moved) => at.page.change(at.field.name, names, moved);
  const free = all(at).filter(([id]) => !at.value.includes(id));
  const add = (event) => {
    const name = event.target.closest(".adder").querySelector("select").value;
    if (name) change([...at.value, name]);
  };
  return [
    node("ol", { class: "cards" }, at.value.map((name, place) => card(at, { name, place, label: labels.get(name), change }))),
    !at.field.locked && at.value.length < at.field.most && node("div", { class: "adder" },
      selectBox(at, { key: "choice", id: `${at.id}-add`, label: at.field.label, choices: free, traits: asks(at) }),
      node("button", { type: "button", class: "small", onclick: add }, at.page.sheet.phrases.add)),
  ];
}

function card(at, { name, place, label, change }) {
  const phrases = at.page.sheet.phrases;
  const others = at.value.filter((each) => each !== name);
  const move = (by) => change([...others.slice(0, place + by), name, ...others.slice(place + by)], name);
  const edge = (by) => place + by < 0 || place + by >= at.value.length;
  const takeOut = (event) => {
    const box = fieldOf(event);
    change(others);
    focusNear(box, place);
  };
  const button = (key, act, off = false) => node("button", {
    key, type: "button", class: "small", "aria-disabled": off ? "true" : null, "aria-label": `${phrases[key]}: ${label}`,
    onclick: (event) => { if (!off) act(event); },
  }, phrases[key]);
  return node("li", { key: name, "data-link": name },
    node("span", { class: "label" }, label),
    !at.field.locked && [
      button("earlier", () => move(-1), edge(-1)),
      button("later", () => move(1), edge(1)),
      button("take_out", takeOut),
    ]);
}

/** After a card is gone the focus goes to the one that took its place, else to the list that cards are chosen from. */
function focusNear(box, place) {
  const cards = box.querySelectorAll(".cards > li");
  (cards[Math.min(place, cards.length - 1)] ?? box).querySelector("button, select")?.focus();
}

const group = (at) => ({
  traits: { class: at.field.kind, "aria-describedby": at.field.asked ? `${at.id}-asked` : null },
  legend: at.field.label,
  choices: all(at),
});

const checksField = (at) => choiceGroup("checkbox", null, { ...group(at), of: (id) => {
  const checked = at.value.includes(id);
  return {
    checked,
    disabled: at.field.locked || (!checked && at.value.length >= at.field.most),
    onchange: (event) => at.page.change(at.field.name, [...fieldOf(event).querySelectorAll("input:checked")].map((box) => box.value)),
  };
} });

const radiosField = (at) => choiceGroup("radio", at.id, { ...group(at), of: (id) => ({
  checked: at.value === id, disabled: at.field.locked, onchange: () => at.page.change(at.field.name, id),
}) });

const tickField = (at) => node("label", { class: "tick" },
  node("input", {
    type: "checkbox", disabled: at.field.locked, checked: at.value,
    onchange: (event) => at.page.change(at.field.name, event.target.checked),
  }),
  node("span", {}, at.field.label));

const textField = (at) => [
  node("label", { for: at.id }, at.field.label),
  node("textarea", {
    id: at.id, rows: 4, maxlength: at.field.most, readonly: at.field.locked, ...asks(at), holds: at.value,
    oninput: (event) => at.page.typing(at.field.name, event.target.value),
    onchange: () => at.page.flush(),
  }),
];

const FIELD_KINDS = {
  selects: selectsField,
  pairs: pairsField,
  cards: cardsField,
  checks: checksField,
  radios: radiosField,
  tick: tickField,
  text: textField,
};

// One item of a lesson: it asks, sends back the answer as one short text, and shows what is said to it. Every sentence comes from Python.

import { choiceGroup, picked } from "./controls.js";
import { listed, node } from "./nodes.js";
import { asking } from "./page.js";
import { table } from "./tables.js";

/** **strong** and *stressed* words of a text, without ever reading it as HTML. */
const marked = (text) => text.split(/(\*\*[^*]+\*\*|\*[^*]+\*)/).map((piece) => {
  if (piece.startsWith("**")) return node("strong", {}, piece.slice(2, -2));
  return piece.startsWith("*") && piece.length > 2 ? node("em", {}, piece.slice(1, -1)) : piece;
});

const fold = (summary, inside) => node("details", {}, node("summary", {}, summary), inside);

// ---------------------------------------------------------------- one way of answering for each kind
// `controls` are drawn anew at each try, with what the last one gave where it is to be bettered; `given` is the answer as text.
// at: the page, the sheet, an id of this try, and the cards as they lie.
const choosing = (type) => ({
  controls: ({ sheet, id }) => choiceGroup(type, id, {
    traits: { key: id },
    legend: marked(sheet.stem),
    choices: sheet.options.map(([letter, text]) => [letter, `${letter}. ${text}`]),
    of: (letter) => ({ start: { checked: type === "checkbox" && (sheet.again[0] ?? "").toUpperCase().includes(letter) } }),
  }),
  given: ({ page, id }) => picked(page.root, id).join(""),
});

const written = ({ sheet, id }, control, ...beside) => [
  node("label", { key: `label ${id}`, class: "asked", for: id }, marked(sheet.stem)),
  node("div", { key: `box ${id}`, class: "written" }, control, ...beside),
];

const valueOf = ({ page, id }) => page.root.querySelector(`#${id}`)?.value ?? "";

/** A number without a unit is meant in the unit that stood beside it. */
const withUnit = (text, unit) => (/\d\s*$/.test(text) ? `${text.trim()} ${unit}`.trim() : text);

const KINDS = {
  choice: choosing("radio"),
  predict: choosing("radio"),
  several: choosing("checkbox"),
  number: {
    controls: (at) => written(at,
      node("input", {
        key: at.sheet.unit, id: at.id, type: "text", inputmode: "decimal", autocomplete: "off", size: "12",
        start: { value: (at.begun ?? at.sheet.again[0] ?? "").trim() },
      }),
      node("span", {}, at.sheet.unit),
      at.sheet.metric && node("span", { class: "second" }, `${at.sheet.labels.metric} ${at.sheet.metric}`)),
    given: (at) => withUnit(valueOf(at), at.sheet.unit),
  },
  sentence: {
    controls: (at) => written(at, node("textarea", { id: at.id, rows: "3" })),
    given: valueOf,
  },
  order: {
    controls: (at) => [
      node("p", { class: "asked", id: at.id }, marked(at.sheet.stem)),
      node("ol", { class: "cards", "aria-labelledby": at.id }, at.cards.map((letter, place) => card(at, letter, place))),
    ],
    given: ({ cards }) => cards.join(""),
  },
  match: {
    controls: ({ sheet, id }) => node("fieldset", { key: id },
      node("legend", {}, marked(sheet.stem)),
      sheet.rows.map((text, place) => node("div", { class: "pair" },
        node("label", { for: `${id}-${place}` }, `${place + 1}. ${text}`),
        node("select", { id: `${id}-${place}`, start: { value: (sheet.again[0] ?? "").toLowerCase()[place] ?? "" } },
          node("option", { value: "" }, sheet.labels.pick),
          sheet.answers.map(([letter, said]) => node("option", { value: letter }, `${letter}. ${said}`)))))),
    given: ({ page, sheet, id }) => sheet.rows.map((_, place) => valueOf({ page, id: `${id}-${place}` })).join(""),
  },
};

/** Cards move by two buttons each, so that keys alone do; the focus stays with the card that moved. */
function card(at, letter, place) {
  const text = new Map(at.sheet.cards).get(letter);
  const last = at.cards.length - 1;
  const move = (by) => () => {
    at.cards.splice(place + by, 0, at.cards.splice(place, 1)[0]);
    at.page.show();
    const moved = at.page.root.querySelector(`[data-card="${letter}"]`);
    const [same, other] = by < 0 ? [".up", ".down"] : [".down", ".up"];
    (moved.querySelector(`${same}:not(:disabled)`) ?? moved.querySelector(other)).focus();
  };
  const button = (kind, sign, by, off) => node("button", {
    type: "button", class: kind, "aria-label": `${at.sheet.labels[kind]}: ${text}`, disabled: off, onclick: move(by),
  }, sign);
  return node("li", { key: letter, "data-card": letter },
    button("up", "↑", -1, place === 0),
    button("down", "↓", 1, place === last),
    node("span", {}, `${letter}. ${text}`));
}

/** The cards as they lie at the beginning of a try. */
const laidOut = (sheet) => {
  const letters = (sheet.cards ?? []).map(([letter]) => letter);
  const before = [...(sheet.again[0] ?? "").toUpperCase()].filter((letter) => letters.includes(letter));
  return before.length === letters.length ? before : letters;
};

// ---------------------------------------------------------------- the page
const BUTTON = { predict: "lock", sentence: "compare" };

/** What is filled in, the button that sends it, and what is said to it. */
function form(at, said) {
  const { page, sheet, id } = at;
  const sure = `sure-${id}`;
  const send = () => page.send({ given: KINDS[sheet.kind].given(at), sureness: picked(page.root, sure)[0] ?? "" }, sheet.labels.waiting);
  return [
    KINDS[sheet.kind].controls(at),
    sheet.sureness.length > 0 && choiceGroup("radio", sure, {
      traits: { key: sure }, legend: sheet.labels.sureness, choices: sheet.sureness.map((text) => [text, text]),
    }),
    sheet.hint && fold(sheet.labels.hint, node("p", {}, sheet.hint)),
    node("button", { type: "button", class: "send", onclick: send }, sheet.labels[BUTTON[sheet.kind] ?? "check"]),
    node("p", { role: "status", class: "status" }, said),
  ];
}

const reply = (sheet, made) => node("div", { class: "reply", tabindex: "-1" },
  node("p", { class: "answered" }, `${sheet.labels.said} ${made.said}`),
  made.word && node("p", { class: "word" }, made.word),
  made.replies.map((text) => node("p", {}, marked(text))));

/** What there was to choose from stays to be read: replies and the worked answer speak of it by its letters. */
const choices = (sheet) => [(sheet.rows ?? []).map((text, place) => [place + 1, text]), sheet.options ?? sheet.answers ?? []]
  .filter((list) => list.length > 0)
  .map((list) => listed("ul", list.map(([letter, text]) => `${letter}. ${text}`), { class: "choices" }));

const opened = (sheet) => [
  sheet.model && [
    node("p", {}, node("strong", {}, sheet.labels.model), ` ${sheet.model}`),
    node("p", {}, sheet.labels.ticks),
    listed("ul", sheet.ticks),
  ],
  sheet.worked && fold(sheet.labels.worked, node("p", {}, marked(sheet.worked))),
];

const given = ({ caption, heads, rows }) => table({ caption, columns: heads, rows: rows.map((cells) => ({ cells })) });

const view = (page) => {
  let at = null;
  const turned = (sheet) => {
    const tries = sheet.tries.length;
    if (at?.sheet.tries.length !== tries) return { page, sheet, id: `i${page.id}-${tries}`, cards: laidOut(sheet) };
    // What is begun stays, in the unit in which it was written.
    return { ...at, sheet, begun: at.sheet.kind === "number" && at.sheet.unit !== sheet.unit ? KINDS.number.given(at) : at.begun };
  };
  return (sheet) => {
    at = turned(sheet);
    return [
      node("p", { class: "heading" }, sheet.heading),
      sheet.tables.map(given),
      sheet.words.length > 0 && listed("ul", sheet.words, { class: "seen" }),
      sheet.picture && node("img", { src: sheet.picture.src, alt: sheet.picture.alt }),
      sheet.done && [node("p", { class: "asked" }, marked(sheet.stem)), choices(sheet)],
      sheet.tries.map((made) => reply(sheet, made)),
      sheet.closing && node("p", { class: "closing" }, sheet.closing),
      sheet.done ? opened(sheet) : form(at, page.said),
    ];
  };
};

export default asking("div", "lesson-item", view, ({ root }, before, now) => {
  if (now.tries.length > before.tries.length) [...root.querySelectorAll(".reply")].at(-1).focus();
});

// The bench: draws the sheet that Python sends and sends acts back. It holds no rule of the course and no sentence.

import { Album, blocks } from "./blocks.js";
import { fieldBox } from "./fields.js";
import { finding } from "./findings.js";
import { draw, lines, node, set } from "./nodes.js";
import { widget } from "./page.js";
import { unitsSwitch } from "./units.js";

const pairs = (rows) => node("dl", {}, rows.map(([name, text]) => node("div", {}, node("dt", {}, name), node("dd", {}, text))));

/** One bench on the page. pending: acts not yet answered. mine: what was changed here and is not in the sheet yet.
 *  opened: parts that fold, whether they are open; newest: the finding made last, which stands open. */
class Page {
  constructor(model, root) {
    this.model = model;
    this.root = root;
    this.id = `b${Math.random().toString(36).slice(2, 10)}`;
    this.count = 0;
    this.pending = [];
    this.mine = new Map();
    this.dead = false;
    this.waiting = {};
    this.opened = new Map();
    this.asked = new Set();
    this.newest = "";
    this.album = new Album(this);
    this.choice = this.sheet.inspections.chosen;
  }

  get sheet() { return this.model.get("whole"); }
  value(field) { return this.mine.has(field.name) ? this.mine.get(field.name).value : field.value; }

  /** [id, label, group]; where another list holds them, its name stands in their place. */
  choices(name) {
    const { choices } = this.sheet;
    return Object.entries(choices[name] ?? {}).map(([id, words]) => {
      const [label, group] = Array.isArray(words) ? words : choices[words][id];
      return [id, label, group];
    });
  }

  // ------------------------------------------------------------------ acts and answers
  ask(act) {
    try {
      this.model.send(act);
    } catch {
      this.lost();
    }
  }

  send(act, place = "") {
    const n = `${this.id}-${++this.count}`;
    this.pending.push(n);
    this.ask({ n, ...act });
    if (place) {
      setTimeout(() => this.wait(n, place, "waiting"), 400);
      setTimeout(() => this.wait(n, place, "stuck"), 8000);
    }
    return n;
  }

  lost() {
    this.dead = true;
    this.draw();
  }

  wait(n, place, phrase) {
    if (!this.pending.includes(n)) return;
    this.waiting = { place, phrase };
    this.draw();
  }

  answered() {
    const place = this.pending.indexOf(this.sheet.ack);
    this.pending = this.pending.slice(place + 1);
    if (place >= 0 && this.dead) {
      this.dead = false;
      this.album.again();
    }
    for (const [name, { n }] of this.mine) if (n && !this.pending.includes(n)) this.mine.delete(name);
    if (this.pending.length === 0) {
      this.waiting = {};
      this.choice = this.sheet.inspections.chosen;
    }
    this.draw();
  }

  // Which way the line changed is not said: ask, and take silence for a restarted kernel.
  lineChanged() {
    this.lost();
    this.send({ do: "choose", inspection: this.choice });
  }

  choose(inspection) {
    this.choice = inspection;
    this.draw();
    this.send({ do: "choose", inspection });
  }

  /** A link that stands chosen beside its button counts as added when the answer is handed in. */
  addChosen() {
    for (const adder of this.root.querySelectorAll(".adder")) {
      if (adder.querySelector("select").value) adder.querySelector("button").click();
    }
  }

  // A double click is one decision.
  once(event, act, place) {
    if (event.detail > 1) return;
    if (act.do === "hand_in") this.addChosen();
    this.flush();
    this.send(act, place);
  }

  change(name, value, moved) {
    this.flush();
    const n = this.send({ do: "draft", answer: { [name]: value }, moved });
    this.mine.set(name, { value, n });
    this.draw();
  }

  typing(name, value) {
    this.mine.set(name, { value, n: null });
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.flush(), 1000);
  }

  flush() {
    clearTimeout(this.timer);
    for (const [name, typed] of this.mine) {
      if (typed.n === null) typed.n = this.send({ do: "draft", answer: { [name]: typed.value } });
    }
  }

  // ------------------------------------------------------------------ what is open
  isOpen(name) { return this.opened.get(name) ?? false; }

  fold(name, open) {
    if (this.isOpen(name) === open) return;
    this.opened.set(name, open);
    this.draw();
  }

  /** The newest finding stands open and folds when the next one comes; a step that is asked for opens once. */
  openWhatIsNew() {
    // What a key or a click has just opened is told a moment later; a drawing in between must not close it again.
    for (const part of this.root.querySelectorAll("[data-fold]")) this.opened.set(part.dataset.fold, part.open);
    const newest = Object.keys(this.sheet.know.findings).at(-1) ?? "";
    if (newest !== this.newest) {
      this.opened.set(`finding ${this.newest}`, false);
      this.opened.set(`finding ${newest}`, true);
      this.newest = newest;
    }
    for (const [id, step] of Object.entries(this.sheet.hand.steps)) {
      if (step.asked && !this.asked.has(id)) this.opened.set(`step ${id}`, true);
      this.asked[step.asked ? "add" : "delete"](id);
    }
  }

  // ------------------------------------------------------------------ the page, top to bottom
  draw() {
    const sheet = this.sheet;
    this.openWhatIsNew();
    set(this.root, "aria-label", sheet.label);
    set(this.root, "data-state", sheet.state);
    set(this.root, "data-dead", this.dead);
    draw(this.root,
      this.head(sheet),
      node("div", { class: "notice", role: "status" }, lines(this.dead ? [sheet.phrases.dead, ...sheet.notice] : sheet.notice)),
      this.order(sheet.order),
      this.next(sheet),
      this.know(sheet.know),
      this.think(sheet.think),
      this.hand(sheet),
      sheet.debrief && this.debrief(sheet.debrief));
  }

  head(sheet) {
    return node("header", {},
      node("h3", {}, sheet.title),
      unitsSwitch(sheet.units, this.id, (system) => this.send({ do: "units", system })),
      node("strong", { class: "minutes" }, sheet.minutes));
  }

  order(order) {
    return node("div", { class: "order" },
      node("p", { class: "complaint" }, node("span", {}, order.complaint), node("span", { class: "owner" }, order.owner)),
      pairs(order.pairs),
      node("details", {}, node("summary", {}, order.spec.heading),
        order.spec.groups.map((group) => [node("h4", {}, group.title), pairs(group.rows)])),
      node("p", { class: "mode" }, order.mode));
  }

  next(sheet) {
    const groups = Object.entries(sheet.inspections.groups);
    return node("section", { class: "next" },
      node("fieldset", { class: "list" },
        node("legend", {}, sheet.inspections.heading),
        groups.map(([word, group]) => this.group(word, group))),
      this.act(sheet));
  }

  group(word, { level, rows }) {
    const id = `${this.id}-open-${level}`;
    const squares = [1, 2, 3, 4, 5].map((place) => node("span", { class: place <= level ? "full" : "open" }));
    return node("div", { key: word, class: "group", role: "group", "aria-labelledby": id },
      node("div", { class: "openness" },
        node("span", { class: "squares", "aria-hidden": "true" }, squares),
        node("span", { class: "word", id }, word)),
      node("div", { class: "rows" }, Object.entries(rows).map(([name, row]) => this.row(name, row))));
  }

  row(id, row) {
    const chosen = this.choice === id && !row.done;
    return node("label", { key: id, class: row.done ? "done" : chosen ? "chosen" : null },
      node("input", {
        type: "radio", name: `${this.id}-inspection`, value: id, disabled: row.done, checked: chosen, onchange: () => this.choose(id),
      }),
      node("span", { class: "name" },
        node("span", { class: "title" }, row.title),
        row.needs && node("span", { class: "needs" }, ` ${row.needs}`)),
      node("span", { class: "time" }, row.time));
  }

  /** The row of the inspection that is chosen and not yet done. */
  chosen(sheet) {
    const rows = Object.assign({}, ...Object.values(sheet.inspections.groups).map((group) => group.rows));
    return rows[this.choice]?.done ? null : rows[this.choice];
  }

  act(sheet) {
    const { phrases, inspections } = sheet;
    const row = this.chosen(sheet) ?? { title: phrases.act_heading, tells: phrases.no_choice, button: phrases.act, none: true };
    const [tells, caution] = [`${this.id}-tells`, `${this.id}-caution`];
    return node("div", { class: "act" },
      node("h4", {}, row.title),
      node("p", { class: "tells", id: tells }, row.tells),
      row.advice && node("p", { id: caution }, row.advice),
      row.danger && node("div", { class: "caution", id: caution },
        node("p", {}, node("strong", {}, `${phrases.caution} ${row.danger}`), node("span", {}, ` ${row.caution}`))),
      node("button", {
        type: "button", class: "main", "aria-disabled": row.none ? "true" : null, "aria-describedby": `${tells} ${caution}`,
        onclick: (event) => this.once(event, { do: "inspect", inspection: this.choice }, "act"),
      }, row.button),
      !row.none && this.button("second", phrases.leave, () => this.leave()),
      this.saidAt("act", inspections.said),
      inspections.hint && this.help("hint", inspections.hint));
  }

  button(kind, words, onclick) {
    return node("button", { type: "button", class: kind, onclick }, words);
  }

  /** What an act brought, or that the kernel has not answered yet. */
  saidAt(place, texts) {
    const waits = this.waiting.place === place;
    return node("div", { class: "said", role: "status" }, lines(waits ? [this.sheet.phrases[this.waiting.phrase]] : texts));
  }

  // The choice goes back to the list, and with it the focus.
  leave() {
    const radio = this.root.querySelector(".rows input:checked");
    this.choose("");
    radio?.focus();
  }

  /** Help that is asked for by a button and may take its time. */
  help(act, help) {
    const waits = this.waiting.place === act;
    return node("div", { class: "help" },
      node("div", { role: "status" }, lines(waits ? [this.sheet.phrases[this.waiting.phrase]] : [])),
      node("div", { class: "blocks", role: "status" }, blocks(help.blocks, this)),
      help.button && this.button("second", help.button, (event) => this.once(event, { do: act }, act)));
  }

  know(know) {
    const found = Object.entries(know.findings).toReversed();
    return node("section", { class: "know" },
      node("h4", { id: `${this.id}-findings` }, know.heading),
      know.left && node("details", { class: "left" },
        node("summary", {}, know.left.heading),
        node("div", { class: "blocks" }, blocks(know.left.blocks, this))),
      node("div", { class: "findings" }, found.map(([id, each]) => finding(id, each, know.columns, this))),
      found.length === 0 && node("p", { class: "mode" }, know.empty));
  }

  fields(fields) {
    return node("div", { class: "fields" }, Object.values(fields).map((field) => fieldBox(field, this)));
  }

  think(think) {
    return node("section", { class: "think" },
      node("h4", {}, think.heading),
      node("p", { class: "mode" }, think.lead),
      this.fields(think.fields),
      think.odds && this.help("odds", think.odds));
  }

  hand(sheet) {
    const hand = sheet.hand;
    return node("section", { class: "hand" },
      node("h4", {}, hand.heading),
      hand.lead && node("p", { class: "mode" }, hand.lead),
      node("div", { class: "steps" }, Object.entries(hand.steps).map(([id, step]) => this.step(id, step))),
      node("div", { class: "buttons" },
        this.button("main", hand.button, (event) => this.once(event, { do: hand.act }, "hand")),
        hand.undo && this.button("second", hand.undo, (event) => this.once(event, { do: "undo" }, "hand"))),
      this.saidAt("hand", hand.said),
      node("p", { class: "spoken", role: "status" }, sheet.verdict?.spoken),
      sheet.verdict && this.verdict(sheet.verdict));
  }

  step(id, step) {
    const name = `step ${id}`;
    const traits = { key: id, "data-step": id, "data-fold": name, open: this.isOpen(name), ontoggle: (event) => this.fold(name, event.target.open) };
    return node("details", traits,
      node("summary", {}, node("span", { class: "title" }, step.title), node("span", { class: "status" }, step.status)),
      this.fields(step.fields));
  }

  verdict(verdict) {
    return node("section", { class: "verdict", "data-good": verdict.good },
      node("h4", {}, verdict.heading),
      node("div", {}, lines(verdict.lines)),
      verdict.story.length > 0 && [node("h5", {}, verdict.story_heading), node("div", {}, lines(verdict.story))]);
  }

  debrief(debrief) {
    const open = (event) => {
      this.once(event, { do: "debrief" }, "hand");
      event.target.closest(".debrief").querySelector("h4").focus();
    };
    return node("section", { class: "debrief" },
      node("h4", { tabindex: "-1" }, debrief.heading),
      debrief.lead && node("p", {}, debrief.lead),
      debrief.button && this.button("main", debrief.button, open),
      debrief.sections.map((part) => node("section", { key: part.id, "data-part": part.id },
        node("h5", {}, part.title),
        node("div", { class: "blocks" }, blocks(part.blocks, this)))));
  }
}

export default widget("section", "bench", (root, model) => {
  const page = new Page(model, root);
  page.draw();
  return {
    changed: () => page.answered(),
    told: (message, buffers) => { if (message.picture) page.album.arrived(message, buffers); },
    lineChanged: () => page.lineChanged(),
    close: () => page.album.close(),
  };
});

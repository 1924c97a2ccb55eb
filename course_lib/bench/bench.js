// The bench: draws the sheet that Python sends and sends acts back. It holds no rule of the course and no sentence.

/** One bench on the page. pending: acts not yet answered. mine: what was changed here and is not in the sheet yet. */
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
    this.album = new Album(this);
    this.choice = this.sheet.inspections.chosen;
  }

  get sheet() { return this.model.get("sheet"); }
  choices(name) { return this.sheet.choices[name] ?? []; }
  value(field) { return this.mine.has(field.name) ? this.mine.get(field.name).value : field.value; }

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

  said(place, texts) {
    return this.waiting.place === place ? [this.sheet.phrases[this.waiting.phrase]] : texts;
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

  // A double click is one decision.
  once(event, act, place) {
    if (event.detail > 1) return;
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

  // ------------------------------------------------------------------ the page, top to bottom
  draw() {
    const focused = this.root.contains(document.activeElement) ? document.activeElement : null;
    this.drawAll();
    if (focused?.isConnected && document.activeElement !== focused) focused.focus({ preventScroll: true });
  }

  drawAll() {
    const sheet = this.sheet;
    set(this.root, "aria-label", sheet.label);
    set(this.root, "data-state", sheet.state);
    set(this.root, "data-dead", this.dead);
    const { put, end } = pen(this.root);
    this.drawHead(put("header", "head"), sheet);
    lines(put("div", "notice", { class: "notice", role: "status" }), this.dead ? [sheet.phrases.dead, ...sheet.notice] : sheet.notice);
    this.drawOrder(put("div", "order", { class: "order" }), sheet);
    this.drawNext(put("section", "next", { class: "next" }), sheet);
    this.drawKnow(put("section", "know", { class: "know" }), sheet.know);
    this.drawThink(put("section", "think", { class: "think" }), sheet.think);
    this.drawHand(put("section", "hand", { class: "hand" }), sheet);
    if (sheet.debrief) this.drawDebrief(put("section", "debrief", { class: "debrief" }), sheet.debrief);
    end();
  }

  drawHead(head, sheet) {
    const { put, end } = pen(head);
    put("h3", "title", {}, sheet.title);
    drawUnits(put("fieldset", "units", { class: "units" }), sheet.units, this.id, (system) => this.send({ do: "units", system }));
    put("strong", "minutes", { class: "minutes" }, sheet.minutes);
    end();
  }

  drawOrder(box, { order }) {
    const { put, end } = pen(box);
    const complaint = pen(put("p", "complaint", { class: "complaint" }));
    complaint.put("span", "words", {}, order.complaint);
    complaint.put("span", "owner", { class: "owner" }, order.owner);
    this.drawPairs(put("dl", "pairs"), order.pairs);
    const spec = pen(put("details", "spec"));
    spec.put("summary", "heading", {}, order.spec.heading);
    this.drawPairs(spec.put("dl", "rows"), order.spec.rows);
    put("p", "mode", { class: "mode" }, order.mode);
    end();
  }

  drawPairs(list, pairs) {
    const { put, end } = pen(list);
    pairs.forEach(([name, text], place) => {
      const pair = pen(put("div", `${place}`));
      pair.put("dt", "name", {}, name);
      pair.put("dd", "text", {}, text);
    });
    end();
  }

  drawNext(box, sheet) {
    const { put, end } = pen(box);
    const list = put("fieldset", "list", { class: "list" });
    const groups = pen(list);
    groups.put("legend", "heading", {}, sheet.inspections.heading);
    for (const group of sheet.inspections.groups) this.drawGroup(groups.put("div", group.word, { class: "group" }), group);
    groups.end();
    this.drawAct(put("div", "act", { class: "act" }), sheet);
    end();
  }

  drawGroup(box, group) {
    const word = `${this.id}-open-${group.level}`;
    set(box, "role", "group");
    set(box, "aria-labelledby", word);
    const { put, end } = pen(box);
    const side = pen(put("div", "openness", { class: "openness" }));
    const squares = pen(side.put("span", "squares", { class: "squares", "aria-hidden": "true" }));
    for (let place = 1; place <= 5; place++) squares.put("span", `${place}`, { class: place <= group.level ? "full" : "open" });
    side.put("span", "word", { id: word }, group.word);
    const rows = pen(put("div", "rows", { class: "rows" }));
    for (const row of group.rows) this.drawRow(rows.put("label", row.id), row);
    rows.end();
    end();
  }

  drawRow(label, row) {
    set(label, "class", row.done ? "done" : this.choice === row.id ? "chosen" : null);
    const { put, end } = pen(label);
    put("input", "radio", {
      type: "radio", name: `${this.id}-inspection`, value: row.id, disabled: row.done,
      checked: this.choice === row.id && !row.done, onchange: () => this.choose(row.id),
    });
    const name = pen(put("span", "name", { class: "name" }));
    name.put("span", "title", {}, row.title);
    if (row.needs) name.put("span", "needs", { class: "needs" }, ` ${row.needs}`);
    name.end();
    put("span", "time", { class: "time" }, row.time);
    end();
  }

  drawAct(box, sheet) {
    const rows = sheet.inspections.groups.flatMap((group) => group.rows);
    const row = rows.find((each) => each.id === this.choice && !each.done);
    const { put, end } = pen(box);
    put("h4", "title", {}, row ? row.title : sheet.phrases.act_heading);
    put("p", "tells", { class: "tells", id: `${this.id}-tells` }, row ? row.tells : sheet.phrases.no_choice);
    if (row?.advice) put("p", "advice", { id: `${this.id}-caution` }, row.advice);
    if (row?.danger) this.drawCaution(put("div", "caution", { class: "caution", id: `${this.id}-caution` }), row, sheet);
    put("button", "do", {
      type: "button", class: "main", "aria-disabled": row ? null : "true", "aria-describedby": `${this.id}-tells ${this.id}-caution`,
      onclick: (event) => this.once(event, { do: "inspect", inspection: this.choice }, "act"),
    }, row ? row.button : sheet.phrases.act);
    if (row) put("button", "leave", { type: "button", class: "second", onclick: () => this.leave() }, sheet.phrases.leave);
    lines(put("div", "said", { class: "said", role: "status" }), this.said("act", sheet.inspections.said));
    if (sheet.inspections.hint) this.drawHelp(put("div", "hint", { class: "help" }), sheet.inspections.hint, "hint");
    end();
  }

  // The choice goes back to the list, and with it the focus.
  leave() {
    const radio = this.root.querySelector(".rows input:checked");
    this.choose("");
    radio?.focus();
  }

  drawCaution(box, row, sheet) {
    const { put, end } = pen(box);
    const text = pen(put("p", "text"));
    text.put("strong", "word", {}, `${sheet.phrases.caution} ${row.danger}`);
    text.put("span", "what", {}, ` ${row.caution}`);
    end();
  }

  /** Help that is asked for by a button and may take its time. */
  drawHelp(box, help, act) {
    const { put, end } = pen(box);
    lines(put("div", "wait", { role: "status" }), this.said(act, []));
    drawBlocks(put("div", "blocks", { class: "blocks", role: "status" }), help.blocks, this);
    if (help.button) put("button", "ask", { type: "button", class: "second", onclick: (event) => this.once(event, { do: act }, act) }, help.button);
    end();
  }

  drawKnow(box, know) {
    const { put, end } = pen(box);
    put("h4", "heading", { id: `${this.id}-findings` }, know.heading);
    if (know.left) {
      const left = pen(put("details", "left", { class: "left" }));
      left.put("summary", "heading", {}, know.left.heading);
      drawBlocks(left.put("div", "blocks", { class: "blocks" }), know.left.blocks, this);
    }
    const findings = pen(put("div", "findings", { class: "findings" }));
    know.groups.forEach((group, place) => drawFinding(findings.put("details", group.id, { "data-finding": group.id }), group, place === 0, know, this));
    findings.end();
    if (know.groups.length === 0) put("p", "empty", { class: "mode" }, know.empty);
    end();
  }

  drawThink(box, think) {
    const { put, end } = pen(box);
    put("h4", "heading", {}, think.heading);
    put("p", "lead", { class: "mode" }, think.lead);
    const fields = pen(put("div", "fields", { class: "fields" }));
    for (const field of think.fields) drawField(fields.put("div", field.name, { class: `stack ${field.kind} ${field.name.replace(".", "-")}` }), field, this);
    fields.end();
    if (think.odds) this.drawHelp(put("div", "odds", { class: "help" }), think.odds, "odds");
    end();
  }

  drawHand(box, sheet) {
    const hand = sheet.hand;
    const { put, end } = pen(box);
    put("h4", "heading", {}, hand.heading);
    if (hand.lead) put("p", "lead", { class: "mode" }, hand.lead);
    const steps = pen(put("div", "steps", { class: "steps" }));
    for (const step of hand.steps) this.drawStep(steps.put("details", step.id, { "data-step": step.id }), step);
    steps.end();
    const buttons = pen(put("div", "buttons", { class: "buttons" }));
    buttons.put("button", "hand-in", { type: "button", class: "main", onclick: (event) => this.once(event, { do: hand.act }, "hand") }, hand.button);
    if (hand.undo) buttons.put("button", "undo", { type: "button", class: "second", onclick: (event) => this.once(event, { do: "undo" }, "hand") }, hand.undo);
    buttons.end();
    lines(put("div", "said", { class: "said", role: "status" }), this.said("hand", hand.said));
    put("p", "spoken", { class: "spoken", role: "status" }, sheet.verdict?.spoken ?? "");
    if (sheet.verdict) this.drawVerdict(put("section", "verdict", { class: "verdict" }), sheet.verdict);
    end();
  }

  drawStep(box, step) {
    if (step.asked && !box.dataset.asked) box.open = true; // shown once; the learner may close it again
    set(box, "data-asked", step.asked);
    const { put, end } = pen(box);
    const summary = pen(put("summary", "summary"));
    summary.put("span", "title", { class: "title" }, step.title);
    summary.put("span", "status", { class: "status" }, step.status);
    const fields = pen(put("div", "fields", { class: "fields" }));
    for (const field of step.fields) drawField(fields.put("div", field.name, { class: `stack ${field.kind} ${field.name.replace(".", "-")}` }), field, this);
    fields.end();
    end();
  }

  drawVerdict(box, verdict) {
    set(box, "data-good", verdict.good);
    const { put, end } = pen(box);
    put("h4", "heading", {}, verdict.heading);
    lines(put("div", "lines"), verdict.lines);
    if (verdict.story.length) {
      put("h5", "story-heading", {}, verdict.story_heading);
      lines(put("div", "story"), verdict.story);
    }
    end();
  }

  drawDebrief(box, debrief) {
    const { put, end } = pen(box);
    put("h4", "heading", { tabindex: "-1" }, debrief.heading);
    if (debrief.lead) put("p", "lead", {}, debrief.lead);
    if (debrief.button) put("button", "ask", { type: "button", class: "main", onclick: (event) => this.openDebrief(event, box) }, debrief.button);
    for (const section of debrief.sections) {
      const part = pen(put("section", section.id, { "data-part": section.id }));
      part.put("h5", "title", {}, section.title);
      drawBlocks(part.put("div", "blocks", { class: "blocks" }), section.blocks, this);
    }
    end();
  }

  openDebrief(event, box) {
    this.once(event, { do: "debrief" }, "hand");
    box.querySelector("h4").focus();
  }
}

function render({ model, el }) {
  const root = document.createElement("section");
  root.className = "bench";
  el.append(root);
  const page = new Page(model, root);
  const answered = () => page.answered();
  const lineChanged = () => page.lineChanged();
  const arrived = (message, buffers) => page.album.arrived(message, buffers);
  model.on("change:sheet", answered);
  model.on("comm_live_update", lineChanged);
  model.on("msg:custom", arrived);
  const letGo = keepKeys(root);
  page.draw();
  return () => {
    model.off("change:sheet", answered);
    model.off("comm_live_update", lineChanged);
    model.off("msg:custom", arrived);
    page.album.close();
    letGo();
  };
}

export default { render };

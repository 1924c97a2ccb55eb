// Draws the sheet that Python sends and sends acts back. It holds no rule of the course and no sentence of its
// own. Text goes in by textContent only, so nothing that is read can become markup.

/** Redraw by walking: the same key keeps the same element, so focus, caret and open lists survive. */
function pen(parent) {
  let next = parent.firstChild;
  const put = (tag, key, traits = {}, text = undefined) => {
    let node = [...parent.children].find((child) => child.dataset.key === key);
    if (node) {
      while (next && next !== node) next = drop(next);
      next = node.nextSibling;
    } else {
      node = parent.insertBefore(document.createElement(tag), next);
      node.dataset.key = key;
    }
    for (const [name, value] of Object.entries(traits)) set(node, name, value);
    if (text !== undefined && node.textContent !== text) node.textContent = text;
    return node;
  };
  const end = () => { while (next) next = drop(next); };
  return { put, end };
}

function drop(node) {
  const after = node.nextSibling;
  node.remove();
  return after;
}

function set(node, name, value) {
  if (name === "checked" || typeof value === "function") {
    if (node[name] !== value) node[name] = value;
  } else if (value === null || value === false) {
    node.removeAttribute(name);
  } else if (node.getAttribute(name) !== String(value)) {
    node.setAttribute(name, value === true ? "" : value);
  }
}

function lines(parent, texts) {
  const { put, end } = pen(parent);
  texts.forEach((text, place) => put("p", `line-${place}`, {}, text));
  end();
}

/** One bench on the page: `pending` are acts not yet answered, `typed` says that words are not yet sent. */
class Page {
  constructor(model, root) {
    this.model = model;
    this.root = root;
    this.id = `b${Math.random().toString(36).slice(2, 10)}`;
    this.count = 0;
    this.pending = [];
    this.typed = false;
    this.dead = false;
    this.waiting = {};
    this.choice = this.sheet.inspections.chosen;
  }

  lost() {
    this.dead = true;
    this.draw();
  }

  get sheet() { return this.model.get("sheet"); }

  send(act, place = "") {
    const n = `${this.id}-${++this.count}`;
    try {
      this.model.send({ n, ...act });
    } catch {
      return this.lost();
    }
    this.pending.push(n);
    if (!place) return;
    setTimeout(() => this.wait(n, place, "waiting"), 400);
    setTimeout(() => this.wait(n, place, "stuck"), 8000);
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
    if (place >= 0) this.dead = false;
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

  draw() {
    const sheet = this.sheet;
    set(this.root, "aria-label", sheet.label);
    set(this.root, "data-state", sheet.state);
    set(this.root, "data-dead", this.dead);
    const { put, end } = pen(this.root);
    this.drawHead(put("header", "head"), sheet);
    this.drawNotice(put("div", "notice", { class: "notice", role: "status" }), sheet);
    this.drawOrder(put("div", "order", { class: "order" }), sheet);
    const body = pen(put("div", "body", { class: "body" }));
    this.drawList(body.put("fieldset", "list", { class: "list" }), sheet.inspections);
    this.drawAct(body.put("section", "act", { class: "act" }), sheet);
    this.drawFindings(body.put("section", "findings", { class: "findings" }), sheet.findings);
    this.drawForm(body.put("section", "form", { class: "form" }), sheet);
    body.end();
    end();
  }

  drawHead(head, sheet) {
    const { put, end } = pen(head);
    put("h3", "title", {}, sheet.title);
    put("strong", "minutes", { class: "minutes" }, sheet.minutes);
    end();
  }

  drawNotice(notice, sheet) {
    lines(notice, this.dead ? [sheet.phrases.dead, ...sheet.notice] : sheet.notice);
  }

  drawOrder(box, sheet) {
    const { put, end } = pen(box);
    const complaint = pen(put("p", "complaint", { class: "complaint" }));
    complaint.put("span", "words", {}, sheet.complaint);
    complaint.put("span", "owner", { class: "owner" }, sheet.owner);
    const pairs = pen(put("dl", "pairs"));
    for (const [name, text] of sheet.order) {
      const pair = pen(pairs.put("div", name));
      pair.put("dt", "name", {}, name);
      pair.put("dd", "text", {}, text);
      pair.end();
    }
    pairs.end();
    this.drawSpec(put("details", "spec"), sheet.spec);
    put("p", "mode", { class: "mode" }, sheet.mode);
    end();
  }

  drawSpec(details, spec) {
    const { put, end } = pen(details);
    put("summary", "heading", {}, spec.heading);
    const rows = pen(put("dl", "rows"));
    spec.rows.forEach(([label, text], place) => {
      const row = pen(rows.put("div", `row-${place}`));
      row.put("dt", "label", {}, label);
      row.put("dd", "text", {}, text);
    });
    rows.end();
    end();
  }

  drawList(list, inspections) {
    const { put, end } = pen(list);
    put("legend", "heading", {}, inspections.heading);
    for (const group of inspections.groups) this.drawGroup(put("div", group.word, { class: "group" }), group);
    end();
  }

  drawGroup(box, group) {
    const word = `${this.id}-open-${group.level}`;
    set(box, "role", "group");
    set(box, "aria-labelledby", word);
    const { put, end } = pen(box);
    const side = pen(put("div", "openness", { class: "openness" }));
    const squares = pen(side.put("span", "squares", { class: "squares", "aria-hidden": "true" }));
    for (let place = 1; place <= 5; place++) {
      squares.put("span", `${place}`, { class: place <= group.level ? "full" : "open" });
    }
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
      type: "radio",
      name: `${this.id}-inspection`,
      value: row.id,
      disabled: row.done,
      checked: this.choice === row.id && !row.done,
      onchange: () => this.choose(row.id),
    });
    const name = pen(put("span", "name", { class: "name" }));
    name.put("span", "title", {}, row.title);
    if (row.needs) name.put("span", "needs", { class: "needs" }, ` ${row.needs}`);
    name.end();
    put("span", "time", { class: "time" }, row.time);
    end();
  }

  choose(inspection) {
    this.choice = inspection;
    this.draw();
    this.send({ do: "choose", inspection });
  }

  drawAct(box, sheet) {
    const rows = sheet.inspections.groups.flatMap((group) => group.rows);
    const row = rows.find((each) => each.id === this.choice && !each.done);
    const { put, end } = pen(box);
    put("h4", "title", {}, row ? row.title : sheet.phrases.act_heading);
    put("p", "tells", { class: "tells", id: `${this.id}-tells` }, row ? row.tells : sheet.phrases.no_choice);
    if (row?.advice) put("p", "advice", { id: `${this.id}-caution` }, row.advice);
    if (row?.danger) this.drawCaution(put("div", "caution", { class: "caution" }), row, sheet);
    put("button", "do", {
      type: "button",
      "aria-disabled": row ? null : "true",
      "aria-describedby": `${this.id}-tells ${this.id}-caution`,
      onclick: (event) => this.inspect(event),
    }, row ? row.button : sheet.phrases.act);
    const said = put("div", "said", { class: "said", role: "status" });
    lines(said, this.said("act", sheet.inspections.said));
    end();
  }

  drawCaution(box, row, sheet) {
    set(box, "id", `${this.id}-caution`);
    const { put, end } = pen(box);
    const text = pen(put("p", "text"));
    text.put("strong", "word", {}, `${sheet.phrases.caution} ${row.danger}`);
    text.put("span", "what", {}, ` ${row.caution}`);
    end();
  }

  // A double click is one decision.
  inspect(event) {
    if (event.detail < 2) this.send({ do: "inspect", inspection: this.choice }, "act");
  }

  drawFindings(box, findings) {
    const { put, end } = pen(box);
    put("h4", "heading", { id: `${this.id}-findings` }, findings.heading);
    if (findings.groups.length) this.drawTable(put, findings);
    else put("p", "empty", { class: "mode" }, findings.empty);
    end();
  }

  drawTable(put, findings) {
    const table = put("table", "table", { role: "table", "aria-labelledby": `${this.id}-findings` });
    const parts = pen(table);
    const head = pen(pen(parts.put("thead", "head", { role: "rowgroup" })).put("tr", "row", { role: "row" }));
    for (const column of findings.columns) {
      head.put("th", column, { role: "columnheader", scope: "col" }, column);
    }
    for (const group of findings.groups) {
      this.drawFinding(parts.put("tbody", group.id, { role: "rowgroup" }), group, findings.columns);
    }
    parts.end();
  }

  drawFinding(body, group, columns) {
    const { put, end } = pen(body);
    const title = pen(pen(put("tr", "title", { role: "row", class: "step" }))
      .put("th", "cell", { role: "rowheader", scope: "rowgroup", colspan: columns.length }));
    title.put("span", "name", {}, group.title);
    title.put("span", "detail", { class: "detail" }, group.detail);
    if (group.words.length) {
      const cell = pen(put("tr", "words", { role: "row", class: "words" }))
        .put("td", "cell", { role: "cell", colspan: columns.length });
      lines(cell, group.words);
    }
    for (const row of group.rows) {
      this.drawReading(put("tr", row.id, { role: "row", class: "reading" }), row, columns);
    }
    end();
  }

  drawReading(line, row, columns) {
    const { put, end } = pen(line);
    put("th", "what", { role: "rowheader", scope: "row" }, row.what);
    put("td", "found", { role: "cell" }, row.found);
    put("td", "spec", { role: "cell", class: "spec", "data-label": columns[2] }, row.spec);
    const result = pen(put("td", "result", { role: "cell", class: `result ${row.side}` }));
    const mark = { below: "◀", within: "●", above: "▶" }[row.side];
    if (mark) result.put("span", "mark", { "aria-hidden": "true", class: "mark" }, mark);
    result.put("span", "text", {}, row.result);
    result.end();
    end();
  }

  drawForm(box, sheet) {
    const form = sheet.form;
    const { put, end } = pen(box);
    put("h4", "heading", {}, form.heading);
    for (const name of new Set(form.selects.map((select) => select.name))) {
      const stack = pen(put("div", name, { class: "stack" }));
      for (const select of form.selects.filter((each) => each.name === name)) {
        this.drawSelect(stack.put("div", select.id, { class: "field" }), select, form);
      }
      stack.end();
    }
    this.drawWhy(put("div", "why", { class: "field why" }), form);
    this.drawSure(put("fieldset", "sure", { class: "field sure" }), form);
    put("button", "hand-in", { type: "button", onclick: (event) => this.handIn(event, form.act) }, form.button);
    const said = put("div", "said", { class: "said", role: "status" });
    lines(said, this.said("form", form.said));
    put("p", "spoken", { class: "spoken", role: "status" }, sheet.verdict?.spoken ?? "");
    if (sheet.verdict) this.drawVerdict(put("section", "verdict", { class: "verdict" }), sheet.verdict);
    end();
  }

  /** True while the page knows more than the sheet: words not sent, or acts not answered. */
  get ahead() { return this.typed || this.pending.length > 0; }

  drawSelect(box, select, form) {
    const { put, end } = pen(box);
    const id = `${this.id}-${select.id}`;
    const asked = select.id.endsWith("-0") ? form.asked[select.name] : undefined;
    put("label", "label", { for: id }, select.label);
    const node = put("select", "select", {
      id,
      "data-name": select.name,
      disabled: form.locked,
      "aria-invalid": asked ? "true" : null,
      "aria-describedby": asked ? `${id}-asked` : null,
      onchange: () => this.draft(),
    });
    const before = node.value;
    this.drawOptions(node, select);
    const value = this.ahead && node.dataset.drawn ? before : select.value;
    if (node.value !== value) node.value = value;
    node.dataset.drawn = "yes";
    if (asked) put("p", "asked", { id: `${id}-asked`, class: "asked" }, asked);
    end();
  }

  drawOptions(node, select) {
    const { put, end } = pen(node);
    put("option", "blank", { value: "" }, select.blank);
    const groups = new Map();
    for (const option of select.options) {
      if (option.group && !groups.has(option.group)) {
        groups.set(option.group, pen(put("optgroup", `group ${option.group}`, { label: option.group })));
      }
      (groups.get(option.group) ?? { put }).put("option", option.id, { value: option.id }, option.label);
    }
    for (const group of groups.values()) group.end();
    end();
  }

  drawWhy(box, form) {
    const { put, end } = pen(box);
    const id = `${this.id}-why`;
    put("label", "label", { for: id }, form.why.label);
    const node = put("textarea", "text", {
      id,
      rows: 4,
      maxlength: form.why.most,
      readonly: form.locked,
      "aria-invalid": form.asked.why ? "true" : null,
      "aria-describedby": form.asked.why ? `${id}-asked` : null,
      oninput: () => this.typing(),
      onchange: () => this.draft(),
    });
    if (!this.ahead && node.value !== form.why.value) node.value = form.why.value;
    if (form.asked.why) put("p", "asked", { id: `${id}-asked`, class: "asked" }, form.asked.why);
    end();
  }

  drawSure(box, form) {
    const asked = form.asked.confidence;
    set(box, "aria-describedby", asked ? `${this.id}-sure-asked` : null);
    const { put, end } = pen(box);
    put("legend", "label", {}, form.sure.label);
    for (const option of form.sure.options) {
      const label = pen(put("label", option));
      const traits = { type: "radio", name: `${this.id}-sure`, value: option, disabled: form.locked };
      const node = label.put("input", "radio", { ...traits, onchange: () => this.draft() });
      if (!this.ahead) set(node, "checked", form.sure.value === option);
      label.put("span", "text", {}, option);
    }
    if (asked) put("p", "asked", { id: `${this.id}-sure-asked`, class: "asked" }, asked);
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

  answer() {
    const chosen = (name) => [...this.root.querySelectorAll(`select[data-name="${name}"]`)]
      .map((node) => node.value).filter(Boolean);
    return {
      parts: chosen("parts"),
      causes: chosen("causes"),
      evidence: chosen("evidence"),
      why: this.root.querySelector("textarea").value,
      confidence: this.root.querySelector(".sure input:checked")?.value ?? "",
    };
  }

  typing() {
    this.typed = true;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.draft(), 1000);
  }

  draft() {
    clearTimeout(this.timer);
    this.typed = false;
    this.send({ do: "draft", answer: this.answer() });
  }

  handIn(event, act) {
    if (event.detail > 1) return;
    clearTimeout(this.timer);
    this.typed = false;
    this.send(act === "hand_in" ? { do: act, answer: this.answer() } : { do: act }, "form");
  }
}

/** The notebook's own keys must not fire in our controls (D twice would delete the cell), but saving must. */
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
  window.addEventListener("keydown", key, true);
  return () => window.removeEventListener("keydown", key, true);
}

function render({ model, el }) {
  const root = document.createElement("section");
  root.className = "bench";
  el.append(root);
  const page = new Page(model, root);
  const answered = () => page.answered();
  const lineChanged = () => page.lineChanged();
  model.on("change:sheet", answered);
  model.on("comm_live_update", lineChanged);
  const letGo = keepKeys(root);
  page.draw();
  return () => {
    model.off("change:sheet", answered);
    model.off("comm_live_update", lineChanged);
    letGo();
  };
}

export default { render };

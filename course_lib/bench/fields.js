// Fields that are filled in. Each kind draws what stands in it and tells the page what was changed; no rule lives here.

const FIELD_KINDS = {
  selects: drawSelects,
  pairs: drawPairs,
  cards: drawCards,
  checks: drawChecks,
  radios: drawRadios,
  tick: drawTick,
  text: drawText,
};

function drawField(box, field, page) {
  set(box, "data-field", field.name);
  const at = { box, field, page, id: `${page.id}-${field.name.replace(".", "-")}`, value: page.value(field) };
  const { put, end } = pen(box);
  FIELD_KINDS[field.kind](at, put);
  if (field.asked) put("p", "asked", { id: `${at.id}-asked`, class: "asked" }, field.asked);
  if (field.note) put("p", "note", { class: "mode" }, field.note);
  end();
}

const asks = (at) => ({
  "aria-invalid": at.field.asked ? "true" : null,
  "aria-describedby": at.field.asked ? `${at.id}-asked` : null,
});

function drawSelect(box, at, { id, label, value, choices, traits, onchange, blank }) {
  const { put, end } = pen(box);
  put("label", "label", { for: id }, label);
  const node = put("select", "select", { id, disabled: at.field.locked, ...traits, onchange });
  drawOptions(node, choices, blank ?? at.field.blank);
  if (node.value !== value) node.value = value;
  if (node.selectedIndex < 0) node.value = "";
  end();
}

function drawOptions(node, choices, blank) {
  const sign = JSON.stringify([choices, blank]);
  if (node.drawnFrom === sign) return;
  node.drawnFrom = sign;
  const { put, end } = pen(node);
  put("option", "blank", { value: "" }, blank);
  const groups = new Map();
  for (const [id, label, group] of choices) {
    if (group && !groups.has(group)) groups.set(group, pen(put("optgroup", `group ${group}`, { label: group })));
    (groups.get(group) ?? { put }).put("option", id, { value: id }, label);
  }
  for (const group of groups.values()) group.end();
  end();
}

const all = (at) => [...at.page.choices(at.field.choices), ...at.field.extra];
const room = (at) => Math.max(1, Math.min(at.value.length + (at.field.locked ? 0 : 1), at.field.most));

// One select for each name chosen, and one more while there is room.
function drawSelects(at, put) {
  for (let place = 0; place < room(at); place++) {
    drawSelect(put("div", `name-${place}`, { class: "field" }), at, {
      id: `${at.id}-${place}`,
      label: at.field.labels[place],
      value: at.value[place] ?? "",
      choices: all(at),
      traits: place === 0 ? asks(at) : {},
      blank: place === 0 ? undefined : "none",
      onchange: () => {
        const names = [...at.box.querySelectorAll("select")].map((node) => node.value);
        at.page.change(at.field.name, [...new Set(names.filter(Boolean))]);
      },
    });
  }
}

// Suspects, each with the finding that speaks against it.
function drawPairs(at, put) {
  const changed = () => {
    const rows = [...at.box.querySelectorAll(".pair")].map((row) => [...row.querySelectorAll("select")].map((node) => node.value));
    at.page.change(at.field.name, rows.filter(([cause]) => cause).map(([cause, finding]) => [cause, finding ?? ""]));
  };
  const against = at.field.labels.at(-1);
  for (let place = 0; place < room(at); place++) {
    const pair = pen(put("div", `pair-${place}`, { class: "pair" }));
    const [cause, finding] = at.value[place] ?? ["", ""];
    const id = `${at.id}-${place}`;
    drawSelect(pair.put("div", "cause", { class: "field" }), at, {
      id, label: at.field.labels[place], value: cause, choices: all(at), blank: "none", onchange: changed,
    });
    if (cause) {
      drawSelect(pair.put("div", "finding", { class: "field" }), at, {
        id: `${id}-finding`, label: against, value: finding, choices: at.page.choices("evidence"), onchange: changed,
      });
    }
    pair.end();
  }
}

// Cards in an order: chosen from a list, moved and taken out by buttons.
function drawCards(at, put) {
  const labels = new Map(all(at).map(([id, label]) => [id, label]));
  const change = (names, moved) => at.page.change(at.field.name, names, moved);
  const cards = pen(put("ol", "cards", { class: "cards" }));
  at.value.forEach((name, place) => drawCard(cards.put("li", name, { "data-link": name }), at, { name, place, label: labels.get(name), change }));
  cards.end();
  if (at.field.locked || at.value.length >= at.field.most) return;
  const adder = pen(put("div", "adder", { class: "adder" }));
  const free = all(at).filter(([id]) => !at.value.includes(id));
  const box = adder.put("div", "choice", { class: "field" });
  drawSelect(box, at, { id: `${at.id}-add`, label: at.field.label, value: box.querySelector("select")?.value ?? "", choices: free, traits: asks(at) });
  const add = () => {
    const name = box.querySelector("select").value;
    if (name) change([...at.value, name]);
  };
  adder.put("button", "add", { type: "button", class: "small", onclick: add }, at.page.sheet.phrases.add);
  adder.end();
}

function drawCard(card, at, { name, place, label, change }) {
  const { put, end } = pen(card);
  const phrases = at.page.sheet.phrases;
  put("span", "label", { class: "label" }, label);
  if (!at.field.locked) {
    const others = at.value.filter((each) => each !== name);
    const move = (by) => change([...others.slice(0, place + by), name, ...others.slice(place + by)], name);
    const edge = (by) => place + by < 0 || place + by >= at.value.length;
    const button = (key, act, off) => put("button", key, {
      type: "button", class: "small", "aria-disabled": off ? "true" : null, "aria-label": `${phrases[key]}: ${label}`,
      onclick: () => { if (!off) act(); },
    }, phrases[key]);
    button("earlier", () => move(-1), edge(-1));
    button("later", () => move(1), edge(1));
    button("take_out", () => { change(others); focusNear(at.box, place); }, false);
  }
  end();
}

/** After a card is gone the focus goes to the one that took its place, else to the list that cards are chosen from. */
function focusNear(box, place) {
  const cards = box.querySelectorAll(".cards > li");
  (cards[Math.min(place, cards.length - 1)] ?? box).querySelector("button, select")?.focus();
}

function drawGroup(at, put, kind, draw) {
  const group = put("fieldset", kind, { class: kind, "aria-describedby": at.field.asked ? `${at.id}-asked` : null });
  const inside = pen(group);
  inside.put("legend", "label", {}, at.field.label);
  for (const choice of all(at)) draw(pen(inside.put("label", choice[0])), choice, group);
  inside.end();
}

function drawChecks(at, put) {
  drawGroup(at, put, "checks", (label, [id, text], group) => {
    const full = at.value.length >= at.field.most && !at.value.includes(id);
    label.put("input", "box", {
      type: "checkbox", value: id, disabled: at.field.locked || full, checked: at.value.includes(id),
      onchange: () => at.page.change(at.field.name, [...group.querySelectorAll("input:checked")].map((node) => node.value)),
    });
    label.put("span", "text", {}, text);
  });
}

function drawRadios(at, put) {
  drawGroup(at, put, "radios", (label, [id, text]) => {
    label.put("input", "radio", {
      type: "radio", name: at.id, value: id, disabled: at.field.locked, checked: at.value === id,
      onchange: () => at.page.change(at.field.name, id),
    });
    label.put("span", "text", {}, text);
  });
}

function drawTick(at, put) {
  const label = pen(put("label", "tick", { class: "tick" }));
  label.put("input", "box", {
    type: "checkbox", disabled: at.field.locked, checked: at.value,
    onchange: (event) => at.page.change(at.field.name, event.target.checked),
  });
  label.put("span", "text", {}, at.field.label);
}

function drawText(at, put) {
  put("label", "label", { for: at.id }, at.field.label);
  const node = put("textarea", "text", {
    id: at.id, rows: 4, maxlength: at.field.most, readonly: at.field.locked, ...asks(at),
    oninput: (event) => at.page.typing(at.field.name, event.target.value),
    onchange: () => at.page.flush(),
  });
  if (node.value !== at.value) node.value = at.value;
}

// Draws one item of a lesson from the sheet it is sent, and sends back the answer as one short text.
// Every sentence comes from Python; text is set with textContent only.

// **strong** and *stressed* words of a text, without ever reading it as HTML.
const marked = (tag, text, attributes = {}) => {
  const made = node(tag, "", attributes);
  for (const piece of text.split(/(\*\*[^*]+\*\*|\*[^*]+\*)/)) {
    if (piece.startsWith("**")) made.append(node("strong", piece.slice(2, -2)));
    else if (piece.startsWith("*") && piece.length > 2) made.append(node("em", piece.slice(1, -1)));
    else made.append(piece);
  }
  return made;
};

// What was seen, heard and smelled beside the readings, and the picture of it all.
const seen = (sheet) => {
  const parts = sheet.words.length ? [listed("ul", sheet.words, { class: "seen" })] : [];
  if (sheet.picture) parts.push(node("img", "", { src: `data:image/png;base64,${sheet.picture.src}`, alt: sheet.picture.alt }));
  return parts;
};

const fold = (summary, ...inside) => {
  const made = node("details");
  made.append(node("summary", summary), ...inside);
  return made;
};

// ---------------------------------------------------------------- one way of answering for each kind
// Each returns the controls, and a function that gives the answer as text.
const choosing = (type) => (sheet, tag) => {
  const options = sheet.options.map(([letter, text]) => [letter, `${letter}. ${text}`]);
  const group = boxes(type, tag, marked("legend", sheet.stem), options);
  const before = (type === "checkbox" ? sheet.again[0] : sheet.begun?.given) ?? "";
  for (const box of group.querySelectorAll("input")) box.checked = before.toUpperCase().includes(box.value);
  return [[group], () => picked(group, tag).join("")];
};

const written = (sheet, tag, control, beside = []) => {
  const label = marked("label", sheet.stem, { class: "asked", for: tag });
  control.id = tag;
  const line = node("div", "", { class: "written" });
  line.append(control, ...beside);
  return [[label, line], () => control.value];
};

const number = (sheet, tag) => {
  const beside = [node("span", sheet.unit)];
  if (sheet.metric) beside.push(node("span", `${sheet.labels.metric} ${sheet.metric}`, { class: "second" }));
  const box = node("input", "", { type: "text", inputmode: "decimal", autocomplete: "off", size: "12" });
  box.value = (sheet.again[0] ?? "").trim();
  // A number without a unit is meant in the unit that stands beside it.
  const [controls, given] = written(sheet, tag, box, beside);
  return [controls, () => (/\d\s*$/.test(given()) ? `${given().trim()} ${sheet.unit}`.trim() : given())];
};

const sentence = (sheet, tag) => written(sheet, tag, node("textarea", sheet.begun?.given, { rows: "3" }));

// Cards move by two buttons each, so that keys alone do; the focus stays with the card that moved.
const order = (sheet, tag) => {
  const list = node("ol", "", { class: "cards", "aria-labelledby": tag });
  const texts = new Map(sheet.cards);
  const before = [...(sheet.again[0] ?? "").toUpperCase()].filter((letter) => texts.has(letter));
  let now = before.length === texts.size ? before : [...texts.keys()];
  const move = (at, by) => {
    const letter = now[at];
    now.splice(at + by, 0, now.splice(at, 1)[0]);
    fill();
    const moved = list.querySelector(`[data-card="${letter}"]`);
    const [same, other] = by < 0 ? [".up", ".down"] : [".down", ".up"];
    (moved.querySelector(`${same}:not(:disabled)`) ?? moved.querySelector(other)).focus();
  };
  const button = (kind, at, by, letter) => {
    const name = `${sheet.labels[kind]}: ${texts.get(letter)}`;
    const made = node("button", by < 0 ? "↑" : "↓", { type: "button", class: kind, "aria-label": name });
    made.disabled = at + by < 0 || at + by >= now.length;
    made.addEventListener("click", () => move(at, by));
    return made;
  };
  const fill = () => {
    list.replaceChildren(
      ...now.map((letter, at) => {
        const line = node("li", "", { "data-card": letter });
        line.append(button("up", at, -1, letter), button("down", at, 1, letter), node("span", `${letter}. ${texts.get(letter)}`));
        return line;
      }),
    );
  };
  fill();
  return [[marked("p", sheet.stem, { class: "asked", id: tag }), list], () => now.join("")];
};

const match = (sheet, tag) => {
  const group = node("fieldset");
  group.append(marked("legend", sheet.stem));
  const picks = sheet.rows.map((text, at) => {
    const pick = node("select", "", { id: `${tag}-${at}` });
    pick.append(node("option", sheet.labels.pick, { value: "" }));
    sheet.answers.forEach(([letter, said]) => pick.append(node("option", `${letter}. ${said}`, { value: letter })));
    pick.value = (sheet.again[0] ?? "").toLowerCase()[at] ?? "";
    const line = node("div", "", { class: "pair" });
    line.append(node("label", `${at + 1}. ${text}`, { for: `${tag}-${at}` }), pick);
    group.append(line);
    return pick;
  });
  return [[group], () => picks.map((pick) => pick.value).join("")];
};

const KINDS = { choice: choosing("radio"), predict: choosing("radio"), several: choosing("checkbox"), number, sentence, order, match };
const BUTTON = { predict: "lock", sentence: "compare" };

// ---------------------------------------------------------------- the page
const sureness = (sheet, tag) => {
  if (!sheet.sureness.length) return [[], () => ""];
  const group = boxes("radio", tag, node("legend", sheet.labels.sureness), sheet.sureness.map((text) => [text, text]));
  for (const box of group.querySelectorAll("input")) box.checked = box.value === sheet.begun?.sureness;
  return [[group], () => picked(group, tag)[0] ?? ""];
};

// Returns the form, and a function that gives what stands in it.
const form = (sheet, model, status) => {
  const tag = `${sheet.name}-${Math.random().toString(36).slice(2)}`;
  const [controls, given] = KINDS[sheet.kind](sheet, tag);
  const [sureBoxes, sure] = sureness(sheet, `sure-${tag}`);
  const button = node("button", sheet.labels[BUTTON[sheet.kind] ?? "check"], { type: "button", class: "send" });
  const answer = () => ({ given: given(), sureness: sure() });
  button.addEventListener("click", () => {
    status.textContent = sheet.labels.waiting;
    model.send(answer());
  });
  const hint = sheet.hint ? [fold(sheet.labels.hint, node("p", sheet.hint))] : [];
  return [[...controls, ...sureBoxes, ...hint, button, status], answer];
};

const reply = (sheet, made) => {
  const box = node("div", "", { class: "reply", tabindex: "-1" });
  box.append(node("p", `${sheet.labels.said} ${made.said}`, { class: "answered" }));
  if (made.word) box.append(node("p", made.word, { class: "word" }));
  made.replies.forEach((text) => box.append(marked("p", text)));
  return box;
};

// What there was to choose from stays to be read: replies and the worked answer speak of it by its letters.
const choices = (sheet) => {
  const lists = [(sheet.rows ?? []).map((text, at) => [at + 1, text]), sheet.options ?? sheet.answers ?? []];
  return lists
    .filter((list) => list.length)
    .map((list) => listed("ul", list.map(([letter, text]) => `${letter}. ${text}`), { class: "choices" }));
};

const opened = (sheet) => {
  const parts = [];
  if (sheet.model) {
    const model = node("p");
    model.append(node("strong", sheet.labels.model), ` ${sheet.model}`);
    parts.push(model, node("p", sheet.labels.ticks), listed("ul", sheet.ticks));
  }
  if (sheet.worked) parts.push(fold(sheet.labels.worked, marked("p", sheet.worked)));
  return parts;
};

// begun: what was chosen or written and not sent; it stays where the item is drawn anew, in other units for example.
const draw = (root, model, fresh, begun) => {
  const sheet = { ...model.get("sheet"), begun };
  if (begun) sheet.again = [begun.given];
  const status = node("p", "", { role: "status", class: "status" });
  root.replaceChildren(node("p", sheet.heading, { class: "heading" }), ...sheet.tables.map(table), ...seen(sheet));
  if (sheet.done) root.append(marked("p", sheet.stem, { class: "asked" }), ...choices(sheet));
  const replies = sheet.tries.map((made) => reply(sheet, made));
  root.append(...replies);
  if (sheet.closing) root.append(node("p", sheet.closing, { class: "closing" }));
  const [parts, answer] = sheet.done ? [opened(sheet)] : form(sheet, model, status);
  root.append(...parts);
  if (fresh) replies.at(-1).focus();
  return answer;
};

export default drawnWhole("lesson-item", (root, model) => {
  const tries = () => model.get("sheet").tries.length;
  let told = tries();
  let answer = draw(root, model, false);
  return () => {
    const same = tries() === told;
    answer = draw(root, model, tries() > told, same ? answer?.() : undefined);
    told = tries();
  };
});

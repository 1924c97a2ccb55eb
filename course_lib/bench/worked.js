// Draws one step of a worked case from the sheet it is sent, and sends back what the learner committed to.
// Every sentence comes from Python; text is set with textContent only.

const table = (block) => {
  const made = node("table");
  made.append(node("caption", block.caption));
  const head = node("tr");
  ["what", "found", "spec", "result"].forEach((word) => head.append(node("th", word, { scope: "col" })));
  made.append(node("thead"), node("tbody"));
  made.tHead.append(head);
  for (const row of block.rows) {
    const line = node("tr", "", { class: row.side ? "off" : "" });
    line.append(node("th", row.what, { scope: "row" }), node("td", row.found), node("td", row.spec));
    const result = node("td");
    const wedge = { below: "◀ ", above: "▶ " }[row.side];
    if (wedge) result.append(node("span", wedge, { "aria-hidden": "true" }));
    result.append(row.result);
    line.append(result);
    made.tBodies[0].append(line);
  }
  return made;
};

const paragraph = (block, kind) => {
  const made = node("p", "", { class: kind });
  if (block.lead) made.append(node("strong", block.lead), " ");
  made.append(block.text ?? "");
  return made;
};

const drawBlock = (block) => {
  if (block.kind === "table") return [table(block)];
  if (block.kind === "heading") return [node("h4", block.text)];
  if (block.kind === "picture") return [node("img", "", { src: `data:image/png;base64,${block.src}`, alt: block.alt })];
  if (block.kind === "caution") return [paragraph(block, "caution")];
  if (block.kind !== "list") return [paragraph(block, "text")];
  const list = listed("ul", block.items);
  return block.lead ? [paragraph({ lead: block.lead }, "text"), list] : [list];
};

const drawQuestion = (root, sheet, model, status) => {
  const tag = `${sheet.name}-${Math.random().toString(36).slice(2)}`;
  let words = null;
  if (sheet.choices.length) {
    const numbered = (texts) => texts.map((text, at) => [at, text]);
    root.append(boxes("radio", `choice-${tag}`, node("legend", sheet.question), numbered(sheet.choices)));
    root.append(boxes("radio", `sure-${tag}`, node("legend", sheet.labels.sureness), numbered(sheet.sureness)));
  } else {
    const label = node("label", sheet.question, { class: "words" });
    words = node("textarea", "", { rows: "3" });
    label.append(words);
    root.append(label);
  }
  const button = node("button", sheet.labels.open, { type: "button" });
  button.addEventListener("click", () => {
    status.textContent = sheet.labels.waiting;
    const at = (name) => Number(picked(root, `${name}-${tag}`)[0] ?? -1);
    model.send({ choice: at("choice"), sureness: sheet.sureness[at("sure")] ?? "", words: words?.value ?? "" });
  });
  root.append(button, status);
};

// What is chosen or written but not yet sent; it stays where the step is drawn anew, in other units for example.
const begun = (root) => ({
  checked: [...root.querySelectorAll("input")].map((input) => input.checked),
  words: root.querySelector("textarea")?.value ?? "",
});
const restore = (root, { checked, words }) => {
  root.querySelectorAll("input").forEach((input, at) => { input.checked = checked[at] ?? false; });
  const text = root.querySelector("textarea");
  if (text) text.value = words;
};

const draw = (root, model, fresh) => {
  const sheet = model.get("sheet");
  const status = node("p", "", { role: "status", class: "status" });
  const kept = begun(root);
  root.replaceChildren();
  if (sheet.waits) {
    root.append(node("p", sheet.waits, { class: "waits" }));
    return;
  }
  if (!sheet.answered) {
    drawQuestion(root, sheet, model, status);
    restore(root, kept);
    return;
  }
  root.append(node("p", sheet.question, { class: "asked" }));
  const answered = node("p", sheet.answered, { class: "answered", tabindex: "-1" });
  root.append(answered, ...sheet.blocks.flatMap(drawBlock));
  if (fresh) answered.focus();
};

export default drawnWhole("worked-step", (root, model) => {
  let open = Boolean(model.get("sheet").answered);
  draw(root, model, false);
  return () => {
    const answered = Boolean(model.get("sheet").answered);
    draw(root, model, answered && !open);
    open = answered;
  };
});

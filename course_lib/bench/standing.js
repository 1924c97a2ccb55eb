// How the practice of a lesson stands, and the button that opens it once more. Every sentence comes from Python.

export default drawnWhole("lesson-item", (root, model) => {
  const press = (text, kind, act) => {
    const made = node("button", text, { type: "button", class: kind });
    made.addEventListener("click", act);
    return made;
  };
  let asking = false;
  const draw = (focus, said = "") => {
    const { caption, heads, rows, labels, begun } = model.get("sheet");
    asking = asking && begun;
    const ask = press(labels.again, "send", () => { asking = true; draw(".no"); });
    const yes = press(labels.yes, "send yes", () => { asking = false; model.send({ again: true }); });
    const no = press(labels.no, "no", () => { asking = false; draw(".send"); });
    ask.disabled = !begun;
    const status = node("p", asking ? labels.sure : said, { role: "status", class: "status", tabindex: "-1" });
    root.replaceChildren(table({ caption, heads, rows }), ...(asking ? [status, yes, " ", no] : [ask, status]));
    if (focus) root.querySelector(focus)?.focus();
  };
  draw();
  // The button that was pressed is gone by then: the focus goes to the line that says what it did.
  return () => (root.contains(document.activeElement) ? draw(".status", model.get("sheet").labels.done) : draw());
});

// Draws the open bay from the sheet it is sent; one press of a button sends all that was chosen, in one message.
// Every sentence comes from Python; text is set with textContent only.

const choice = (name, words, options, now) => {
  const line = node("label");
  const list = node("select", "", { name });
  list.append(node("option", words.any, { value: "" }));
  for (const [value, text] of options) list.append(node("option", text, { value }));
  list.value = now ?? "";
  line.append(node("span", words[name]), list);
  return line;
};

const NAMES = ["family", "lesson", "difficulty"];

export default {
  render({ model, el }) {
    const chosen = {};
    const send = (act) => () => {
      if (!model.get("sheet").busy) model.send({ do: act, ...chosen });
    };
    const draw = () => {
      const sheet = model.get("sheet");
      const focused = el.contains(document.activeElement) ? document.activeElement.getAttribute("name") : "";
      const page = node("section", "", { class: "bay", "aria-label": sheet.words.head });
      page.append(node("h3", sheet.words.head));
      const row = node("div", "", { class: "bay-row" });
      for (const name of NAMES) row.append(choice(name, sheet.words, sheet[name], chosen[name]));
      row.addEventListener("change", (event) => (chosen[event.target.name] = event.target.value));
      const next = node("button", sheet.words.next, { name: "next", type: "button", "aria-disabled": String(sheet.busy) });
      next.addEventListener("click", send("next"));
      page.append(row, node("p", sheet.words.note), next);
      if (sheet.begun) {
        const again = node("button", sheet.words.again, { name: "again", type: "button" });
        again.addEventListener("click", send("again"));
        page.append(again);
      }
      page.append(node("p", sheet.say, { role: "status", class: "bay-say" }));
      page.append(listed("ul", sheet.plan));
      el.replaceChildren(page);
      if (focused) el.querySelector(`[name="${focused}"]`)?.focus();
    };
    model.on("change:sheet", draw);
    const loud = keepKeys(el);
    draw();
    return () => {
      model.off("change:sheet", draw);
      loud();
    };
  },
};

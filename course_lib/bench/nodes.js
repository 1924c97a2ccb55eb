// Elements made anew at each drawing, for pages that are drawn whole: items, steps, the open bay. Text is set as text only.

const node = (tag, text, attributes = {}) => {
  const made = document.createElement(tag);
  if (text) made.textContent = text;
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  return made;
};

const listed = (tag, texts, attributes = {}) => {
  const made = node(tag, "", attributes);
  texts.forEach((text) => made.append(node("li", text)));
  return made;
};

// `legend` is an element; `options` are [value, words].
const boxes = (type, name, legend, options) => {
  const group = node("fieldset");
  group.append(legend);
  for (const [value, words] of options) {
    const line = node("label");
    line.append(node("input", "", { type, name, value }), node("span", words));
    group.append(line);
  }
  return group;
};

const picked = (root, name) => [...root.querySelectorAll(`input[name="${name}"]:checked`)].map((box) => box.value);

// A page that is drawn by `redraw(root)` whenever its sheet changes, and that shows in its line of status what is said to it.
const drawnWhole = (name, redraw) => ({
  render({ model, el }) {
    const root = node("div", "", { class: name });
    el.append(root);
    const change = redraw(root, model);
    const say = (message) => {
      const status = root.querySelector(".status");
      if (status && message.say) status.textContent = message.say;
    };
    model.on("change:sheet", change);
    model.on("msg:custom", say);
    const loud = keepKeys(root);
    return () => {
      model.off("change:sheet", change);
      model.off("msg:custom", say);
      loud();
    };
  },
});

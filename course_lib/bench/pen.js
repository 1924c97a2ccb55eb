// The pen: redraws by walking, so that the same key keeps the same element with its focus, caret and open lists.
// Text goes in by textContent only, so nothing that is read can become markup.

function pen(parent) {
  const kept = new Map([...parent.childNodes].map((child) => [child.dataset?.key, child]));
  let next = parent.firstChild;
  const put = (tag, key, traits = {}, text = undefined) => {
    let node = kept.get(key);
    if (!node) {
      node = document.createElement(tag);
      node.dataset.key = key;
    }
    kept.delete(key);
    if (node === next) next = node.nextSibling;
    else parent.insertBefore(node, next);
    for (const [name, value] of Object.entries(traits)) set(node, name, value);
    if (text !== undefined && node.textContent !== text) node.textContent = text;
    return node;
  };
  const end = () => { for (const node of kept.values()) node.remove(); };
  return { put, end };
}

function set(node, name, value) {
  if (name === "checked" || typeof value === "function") {
    if (node[name] !== value) node[name] = value;
  } else if (value === null || value === undefined || value === false) {
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

/** Keys of the notebook must not fire in our controls (D twice would delete the cell), but saving must. */
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

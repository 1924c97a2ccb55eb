// A table of a lesson page: caption, heads, and rows named by their first cell; its caption alone where it has no rows.

const row = (cells, first, tag = "td") => {
  const line = node("tr");
  cells.forEach((cell, at) => {
    line.append(at === 0 && tag === "td" ? node("th", cell, { scope: "row" }) : node(tag, cell, first));
  });
  return line;
};

const table = (given) => {
  if (!given.rows.length) return node("p", given.caption, { class: "caption" });
  const made = node("table");
  made.append(node("caption", given.caption), node("thead"), node("tbody"));
  made.tHead.append(row(given.heads, { scope: "col" }, "th"));
  given.rows.forEach((cells) => made.tBodies[0].append(row(cells, {})));
  return made;
};

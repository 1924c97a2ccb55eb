// Tables. Their roles are said in words as well, because a narrow page lays rows out as blocks, and with that a browser forgets them.

import { node } from "./nodes.js";

export const SIGNS = { below: "◀", within: "●", above: "▶", care: "▲" };

const headRow = (heads) => node("thead", { role: "rowgroup" },
  node("tr", { role: "row" }, heads.map((head) => node("th", { role: "columnheader", scope: "col" }, head))));

/** A text with a sign before it, which a screen reader leaves out. */
export const signed = (sign, text) => [sign && node("span", { "aria-hidden": "true", class: "mark" }, sign), node("span", {}, text)];

const named = (text) => node("th", { role: "rowheader", scope: "row" }, text);

/** A table as such: rows are their cells, the first of which names them, and a sign. Its caption alone where it has no rows. */
export function table({ caption, columns, rows }, kind = "plain") {
  if (!rows.length) return node("p", { class: "caption" }, caption);
  const cell = (text, place, sign) => (place === 0
    ? named(text)
    : node("td", { role: "cell", "data-label": columns[place] }, signed(place === 1 && SIGNS[sign], text)));
  return node("table", { class: kind, role: "table" },
    node("caption", {}, caption),
    headRow(columns),
    node("tbody", { role: "rowgroup" },
      rows.map(({ cells, sign }) => node("tr", { role: "row", class: sign || null }, cells.map((text, place) => cell(text, place, sign))))));
}

/** Readings against their spec, with a sign that says on which side each lies. */
export const readings = (rows, columns, traits, caption) => node("table", { role: "table", ...traits },
  caption && node("caption", {}, caption),
  headRow(columns),
  node("tbody", { role: "rowgroup" },
    rows.map((row) => node("tr", { role: "row", class: "reading" },
      named(row.what),
      node("td", { role: "cell" }, row.found),
      node("td", { role: "cell", class: "spec", "data-label": columns[2] }, row.spec),
      node("td", { role: "cell", class: `result ${row.side}` }, signed(SIGNS[row.side], row.result))))));

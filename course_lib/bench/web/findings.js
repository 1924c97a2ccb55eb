// What was found: one inspection with its words, its readings against spec, and its pictures.

import { pictures, sounds } from "./blocks.js";
import { lines, node } from "./nodes.js";
import { readings, signed, SIGNS, table } from "./tables.js";

/** A part that opens and closes, and is drawn only while it is open. */
const folding = (page, name, traits, summary, inside) => node("details", {
  ...traits, "data-fold": name, open: page.isOpen(name), ontoggle: (event) => page.fold(name, event.target.open),
}, node("summary", {}, summary), page.isOpen(name) && inside());

const reading = ([what, found, spec, result, side]) => ({ what, found, spec, result, side });

export const finding = (id, found, columns, page) => folding(page, `finding ${id}`, { key: id, "data-finding": id }, [
  node("span", { class: "title", id: `${page.id}-${id}` }, found.title),
  node("span", { class: "detail" }, found.detail),
  found.outside && node("span", { class: "outside" }, signed(SIGNS.care, found.outside)),
], () => node("div", { class: "opened" },
  node("div", { class: "words" }, lines(found.words)),
  found.rows.length > 0 && readings(found.rows.map(reading), columns, { "aria-labelledby": `${page.id}-${id}` }),
  found.papers.map(({ title, table: paper }) => folding(page, `paper ${id} ${title}`, { class: "paper" }, title, () => table(paper))),
  found.listen && folding(page, `listen ${id}`, { class: "listen" }, found.listen.heading, () => sounds(found.listen.id, page)),
  pictures(found.picture, page)));

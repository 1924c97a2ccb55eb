// What was found: one inspection with its words, its readings against spec, and its pictures.

/** The newest finding stands open; it folds when the next one comes, and opens again at a click. */
function drawFinding(box, group, newest, know, page) {
  if (box.dataset.newest !== String(newest)) {
    box.dataset.newest = newest;
    box.open = newest;
  }
  set(box, "ontoggle", () => page.draw());
  const { put, end } = pen(box);
  const summary = pen(put("summary", "summary"));
  summary.put("span", "title", { class: "title", id: `${page.id}-${group.id}` }, group.title);
  summary.put("span", "detail", { class: "detail" }, group.detail);
  if (group.outside) drawCell(summary.put("span", "outside", { class: "outside" }), group.outside, SIGNS.care);
  summary.end();
  if (box.open) drawOpened(put("div", "opened", { class: "opened" }), group, know, page);
  end();
}

function drawOpened(box, group, know, page) {
  const { put, end } = pen(box);
  lines(put("div", "words", { class: "words" }), group.words);
  if (group.rows.length) drawReadings(put("table", "table", { role: "table", "aria-labelledby": `${page.id}-${group.id}` }), group, know.columns);
  if (group.listen) drawListen(put("details", "listen", { class: "listen" }), group.listen, page);
  drawPictures(put("div", "pictures", { class: "pictures" }), group.picture, page);
  end();
}

function drawReadings(table, group, columns) {
  const { put, end } = pen(table);
  const head = pen(pen(put("thead", "head", { role: "rowgroup" })).put("tr", "row", { role: "row" }));
  for (const column of columns) head.put("th", column, { role: "columnheader", scope: "col" }, column);
  const body = pen(put("tbody", "body", { role: "rowgroup" }));
  for (const row of group.rows) drawReading(body.put("tr", row.id, { role: "row", class: "reading" }), row, columns);
  body.end();
  end();
}

function drawReading(line, row, columns) {
  const { put, end } = pen(line);
  put("th", "what", { role: "rowheader", scope: "row" }, row.what);
  put("td", "found", { role: "cell" }, row.found);
  put("td", "spec", { role: "cell", class: "spec", "data-label": columns[2] }, row.spec);
  drawCell(put("td", "result", { role: "cell", class: `result ${row.side}` }), row.result, SIGNS[row.side]);
  end();
}

function drawListen(box, listen, page) {
  set(box, "ontoggle", () => page.draw());
  const { put, end } = pen(box);
  put("summary", "summary", {}, listen.heading);
  if (box.open) drawSounds(put("div", "sounds", { class: "sounds" }), listen.id, page);
  end();
}

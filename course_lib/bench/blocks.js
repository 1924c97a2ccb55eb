// Blocks that are only read: texts, lists, tables, pictures, progress. Python says which and in what order.

const SIGNS = { below: "◀", within: "●", above: "▶", care: "▲" };

function drawBlocks(box, blocks, page) {
  const { put, end } = pen(box);
  blocks.forEach((block, place) => {
    const key = `${block.kind}-${place}`;
    if (block.kind === "text") put("p", key, {}, block.text);
    if (block.kind === "list") drawItems(put(block.ordered ? "ol" : "ul", key), block.items);
    if (block.kind === "table") drawPlainTable(put("table", key, { class: "plain", role: "table" }), block);
    if (block.kind === "picture") drawPictures(put("div", key, { class: "pictures" }), block.id, page, block.waiting);
    if (block.kind === "progress") drawProgress(put("div", key, { class: "progress" }), block);
  });
  end();
}

function drawItems(list, items) {
  const { put, end } = pen(list);
  items.forEach((item, place) => put("li", `${place}`, {}, item));
  end();
}

function drawPlainTable(table, block) {
  const { put, end } = pen(table);
  put("caption", "caption", {}, block.caption);
  const head = pen(pen(put("thead", "head", { role: "rowgroup" })).put("tr", "row", { role: "row" }));
  for (const column of block.columns) head.put("th", column, { role: "columnheader", scope: "col" }, column);
  head.end();
  const body = pen(put("tbody", "body", { role: "rowgroup" }));
  block.rows.forEach((row, place) => drawPlainRow(body.put("tr", `${place}`, { role: "row", class: row.sign || null }), row, block));
  body.end();
  end();
}

function drawPlainRow(line, row, block) {
  const { put, end } = pen(line);
  row.cells.forEach((cell, place) => {
    const label = block.columns[place];
    if (place === 0) put("th", "0", { role: "rowheader", scope: "row" }, cell);
    else drawCell(put("td", `${place}`, { role: "cell", "data-label": label }), cell, place === 1 && SIGNS[row.sign]);
  });
  end();
}

function drawCell(box, text, mark) {
  const { put, end } = pen(box);
  if (mark) put("span", "mark", { "aria-hidden": "true", class: "mark" }, mark);
  put("span", "text", {}, text);
  end();
}

function drawProgress(box, progress) {
  const { put, end } = pen(box);
  put("p", "label", {}, progress.label);
  const known = progress.total > 0;
  put("progress", "bar", { max: known ? progress.total : null, value: known ? progress.done : null, "aria-label": progress.label });
  end();
}

/** Pictures come one after the other, so that an act of the learner never waits for more than one of them. */
class Album {
  constructor(page) {
    this.page = page;
    this.pictures = new Map();
    this.waiting = [];
    this.asked = null;
  }

  get(id) {
    if (!this.pictures.has(id) && !this.waiting.includes(id)) {
      this.waiting.push(id);
      this.askNext();
    }
    return this.pictures.get(id);
  }

  askNext() {
    if (this.asked || this.waiting.length === 0) return;
    this.asked = this.waiting[0];
    this.page.ask({ do: "picture", picture: this.asked });
  }

  arrived(message, buffers) {
    const urls = buffers.map((png) => URL.createObjectURL(new Blob([png], { type: message.type })));
    this.pictures.set(message.picture, message.alts.map((alt, place) => ({ alt, url: urls[place] })));
    this.waiting = this.waiting.filter((id) => id !== message.picture);
    if (this.asked === message.picture) this.asked = null;
    this.askNext();
    this.page.draw();
  }

  // A kernel that was restarted has forgotten what it was asked.
  again() {
    this.asked = null;
    this.askNext();
  }

  close() {
    for (const set of this.pictures.values()) for (const picture of set) URL.revokeObjectURL(picture.url);
  }
}

function drawPictures(box, id, page, waiting = "") {
  const { put, end } = pen(box);
  const pictures = page.album.get(id);
  if (!pictures && waiting) put("p", "waiting", { class: "mode" }, waiting);
  (pictures ?? []).forEach((picture, place) => put("img", `${id}-${place}`, { src: picture.url, alt: picture.alt }));
  end();
}

/** Sounds stand beside their words; nothing plays by itself. */
function drawSounds(box, id, page) {
  const { put, end } = pen(box);
  (page.album.get(id) ?? []).forEach((sound, place) => {
    put("p", `words-${place}`, { id: `${page.id}-${id}-${place}`.replaceAll(" ", "-") }, sound.alt);
    put("audio", `sound-${place}`, { controls: true, src: sound.url, "aria-label": sound.alt });
  });
  end();
}

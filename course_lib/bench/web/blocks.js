// Blocks that are only read: texts, lists, tables, pictures, progress. Python says which and in what order.

import { listed, node } from "./nodes.js";
import { table } from "./tables.js";

export const blocks = (given, page) => given.map((block) => BLOCKS[block.kind](block, page));

const BLOCKS = {
  text: (block) => node("p", {}, block.text),
  list: (block) => listed(block.ordered ? "ol" : "ul", block.items),
  table: (block) => table(block),
  picture: (block, page) => pictures(block.id, page, block.waiting),
  progress: ({ label, done, total }) => node("div", { class: "progress" },
    node("p", {}, label),
    node("progress", { max: total || null, value: total ? done : null, "aria-label": label })),
};

export const pictures = (id, page, waiting = "") => {
  const there = page.album.get(id);
  return node("div", { class: "pictures" },
    !there && waiting && node("p", { class: "mode" }, waiting),
    there?.map((picture, place) => node("img", { key: `${id}-${place}`, src: picture.url, alt: picture.alt })));
};

/** Sounds stand beside their words; nothing plays by itself. */
export const sounds = (id, page) => node("div", { class: "sounds" },
  page.album.get(id)?.map((sound) => [
    node("p", {}, sound.alt),
    node("audio", { controls: true, src: sound.url, "aria-label": sound.alt }),
  ]));

/** Pictures come one after the other, so that an act of the learner never waits for more than one of them. */
export class Album {
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
    const urls = buffers.map((file) => URL.createObjectURL(new Blob([file], { type: message.type })));
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
    for (const shown of this.pictures.values()) for (const picture of shown) URL.revokeObjectURL(picture.url);
  }
}

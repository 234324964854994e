// Files on their way from a drop or a chooser to labkit: read one by one, sent a few at a time.

import { Refused } from "./asking.js";
import { classPath } from "./house.js";

const LONGEST_NAME = 300;
const UNREAD = "The browser cannot read it. Is the stick damaged, or was it taken out?";

/**
 * How much goes at once, and of which files more than the name.
 * @typedef {{ files: number, bytes: number, file: number, archive: number, ending: string, named: string }} Limits
 * @typedef {{ name: string, file: File | null }} Found - file: null where the browser cannot get at it
 */

/** The files of a chooser. @param {FileList} files @returns {Found[]} */
export function chosen(files) {
  return [...files].map((file) => ({ name: file.name, file }));
}

/** The files of a drop, of folders those in them. Asked for at once: a drop is empty later. @param {DataTransfer} drop @returns {Promise<Found[]>} */
export async function dropped(drop) {
  const files = chosen(drop.files);
  const entries = [...drop.items].map((item) => item.webkitGetAsEntry());
  if (entries.includes(null)) return files;
  const found = [];
  for (const entry of entries) await inEntry(entry, found);
  return found;
}

async function inEntry(entry, found) {
  try {
    if (entry.isFile) {
      found.push({ name: entry.name, file: await new Promise((done, failed) => entry.file(done, failed)) });
      return;
    }
    for (const each of await entriesOf(entry.createReader())) await inEntry(each, found);
  } catch {
    found.push({ name: entry.name, file: null });
  }
}

async function entriesOf(reader) {
  const all = [];
  for (;;) {
    // A browser gives a hundred at a time, and none once there are no more.
    const some = await new Promise((done, failed) => reader.readEntries(done, failed));
    if (!some.length) return all;
    all.push(...some);
  }
}

/** Files on their way. What was not taken in yet is still there after an error. */
export class Sending {
  /**
   * @param {Limits} limits
   * @param {(told: any) => void} came - called with what labkit says of each lot that it took in
   * @param {(name: string, sentence: string) => void} unread - called for each file that cannot be read here
   */
  constructor(limits, came, unread) {
    this.limits = limits;
    this.came = came;
    this.unread = unread;
    /** @type {Found[]} */
    this.left = [];
    this.all = 0;
    this.named = new RegExp(limits.named, "i");
  }

  /** @param {Found[]} found */
  add(found) {
    this.left.push(...found);
    this.all += found.length;
  }

  /** Send what is left. Throws `Refused` where a lot was not taken in: it is then left. @param {() => void} step - called after each lot */
  async go(step) {
    while (this.left.length) {
      const { lot, taken, unread } = await this.nextLot();
      if (lot.length) this.came(await post(lot));
      for (const name of unread) this.unread(name, UNREAD);
      this.left.splice(0, taken);
      step();
    }
    this.all = 0;
  }

  async nextLot() {
    const lot = [];
    const unread = [];
    let taken = 0;
    let bytes = 0;
    for (const { name, file } of this.left) {
      const archive = name.toLowerCase().endsWith(this.limits.ending);
      taken++;
      const data = await this.read(name, file, archive);
      if (data) lot.push({ name: name.slice(-LONGEST_NAME), data });
      else unread.push(name);
      bytes += data?.byteLength ?? 0;
      if (archive || lot.length >= this.limits.files || bytes >= this.limits.bytes) break;
    }
    return { lot, taken, unread };
  }

  /** A file's bytes; of what cannot be a hand-in none, for it stays where it is. Null where it cannot be read. */
  async read(name, file, archive) {
    if (!file) return null;
    const most = archive ? this.limits.archive : this.limits.file;
    if (!archive && !this.named.test(name)) return new ArrayBuffer(0);
    try {
      return await file.slice(0, most).arrayBuffer();
    } catch {
      return null;
    }
  }
}

async function post(lot) {
  const names = JSON.stringify(lot.map(({ name, data }) => [name, data.byteLength]));
  const body = new Blob([`${names}\n`, ...lot.map(({ data }) => data)]);
  let answer;
  try {
    answer = await fetch(`${classPath()}hand-ins/receive`, { method: "POST", body });
  } catch {
    throw new Refused("labkit does not answer. Is its window still open?", 0);
  }
  if (!answer.ok) throw new Refused(await answer.text(), answer.status);
  return answer.json();
}

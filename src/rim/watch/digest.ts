import type { FileStat } from '../../core/model.ts';
import type { FolderContent } from './read-folder.ts';

const FNV_PRIME = 0x01000193;
const LOW = 0xffff_ffffn;

/**
 * 64 bits over the names, sizes, times and inodes of a folder's content, from two 32-bit FNV-1a sums that begin
 * differently. Equal content in the same order gives equal text.
 */
export class Digest {
  #a = 0x811c9dc5;
  #b = 0x2f0b4c47;

  addFiles(files: readonly FileStat[]): void {
    for (const file of files) {
      this.#addText(file.path);
      this.#add(file.size % 0x1_0000_0000);
      this.#add(Math.floor(file.size / 0x1_0000_0000));
      this.#addWide(file.mtimeNs);
      this.#addWide(file.ctimeNs);
      this.#addWide(file.ino);
    }
  }

  /** With everything beside the files, which were added before. */
  textWith({ count, dirs, foreign, unreadable }: Omit<FolderContent, 'kind' | 'files'>): string {
    for (const { path, ino } of dirs) {
      this.#addText(path);
      this.#addWide(ino);
    }
    for (const path of foreign) this.#addText(path);
    for (const { path, error } of unreadable) this.#addText(`${path}\0${error}`);
    const lengths = [count, dirs.length, foreign.length, unreadable.length].join();
    return `${(this.#a >>> 0).toString(16)}-${(this.#b >>> 0).toString(16)}-${lengths}`;
  }

  #addText(text: string): void {
    for (let at = 0; at < text.length; at += 1) this.#add(text.charCodeAt(at));
    this.#add(0x1_0000);
  }

  #addWide(value: bigint): void {
    this.#add(Number(value & LOW));
    this.#add(Number((value >> 32n) & LOW));
  }

  #add(value: number): void {
    this.#a = Math.imul(this.#a ^ value, FNV_PRIME);
    this.#b = Math.imul(this.#b ^ (value + this.#a), FNV_PRIME);
  }
}

import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/**
 * An ext4 file system on a loop device whose image lies in memory: a drive that is faster than any link, and whose speed nobody else
 * changes. `folder` is on it. The returned function takes all of it away.
 */
export function memoryDrive(bytes: number): { folder: string; remove: () => void } {
  const place = mkdtempSync(join(tmpdir(), 'headroomd-memory-'));
  const [memory, folder] = [join(place, 'memory'), join(place, 'stripe')];
  mkdirSync(memory);
  mkdirSync(folder);
  const undo: (() => void)[] = [() => rmSync(place, { recursive: true, force: true })];
  const remove = () => {
    for (const step of undo.splice(0).reverse()) step();
  };
  try {
    execFileSync('mount', ['-t', 'tmpfs', '-o', 'size=90%', 'tmpfs', memory]);
    undo.push(() => execFileSync('umount', [memory]));
    const image = join(memory, 'image');
    // Written in full: memory that is touched for the first time is slow, and that is not the drive that is looked for.
    execFileSync('dd', ['if=/dev/zero', `of=${image}`, 'bs=1M', `count=${Math.round(bytes / 1_048_576)}`], {
      stdio: 'ignore',
    });
    execFileSync('mkfs.ext4', ['-q', '-F', '-E', 'nodiscard', image]);
    execFileSync('mount', ['-o', 'loop', image, folder]);
    undo.push(() => execFileSync('umount', [folder]));
    return { folder, remove };
  } catch (error) {
    remove();
    throw error;
  }
}

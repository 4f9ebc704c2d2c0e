import type { BigIntStats } from 'node:fs';
import type { FileStat, PathText } from '../../core/model.ts';

/** What node's stat (taken with `bigint: true`) tells of a regular file, in our words. */
export function toFileStat(path: PathText, stat: BigIntStats): FileStat {
  return {
    path,
    size: Number(stat.size),
    allocated: Number(stat.blocks) * 512,
    mtimeNs: stat.mtimeNs,
    ctimeNs: stat.ctimeNs,
    dev: stat.dev,
    ino: stat.ino,
    nlink: Number(stat.nlink),
  };
}

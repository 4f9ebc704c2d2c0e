import { hash } from 'node:crypto';
import { xxh3, xxh64 } from '@node-rs/xxhash';
import type { Digest } from '../../core/backup/directory-hash.ts';
import { c4Of } from '../../core/backup/mhl-hash-value.ts';
import type { HashFormat } from '../../core/backup/mhl-model.ts';

/** Hashes of bytes that are in memory, as lists write them: lower-case hex, xxHash without seed and big-endian. */
export const digests: Record<HashFormat, Digest> = {
  c4: (bytes) => c4Of(hash('sha512', bytes, 'buffer')),
  md5: (bytes) => hash('md5', bytes),
  sha1: (bytes) => hash('sha1', bytes),
  xxh128: (bytes) => hex(xxh3.xxh128(bytes), 32),
  xxh3: (bytes) => hex(xxh3.xxh64(bytes), 16),
  xxh64: (bytes) => hex(xxh64(bytes), 16),
};

function hex(value: bigint, digits: number): string {
  return value.toString(16).padStart(digits, '0');
}

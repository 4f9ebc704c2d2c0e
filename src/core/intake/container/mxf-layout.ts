import { headerStart } from './mxf.ts';
import { type Metadata, readMetadata } from './mxf-metadata.ts';
import { findRandomIndex, type Partition, type PartitionEntry, readPartition } from './mxf-partition.ts';
import { setClass } from './mxf-registry.ts';
import { count, type Read } from './reading.ts';

/** Header metadata of more than this are not read: a take has some 10 KB, an hour with much description some 1 MB. */
const MAX_METADATA = 8 * 1024 * 1024;

const FOOTER = 4;
const CLOSED_AND_COMPLETE = 4;

/** Where things are in an MXF file. Positions are those in the file. */
export interface Layout {
  runIn: number;
  header: Partition;
  /** `null`: there is none, the file is open or cut. */
  footer: Partition | null;
  /** As the random index pack lists them; empty without one. */
  partitions: readonly PartitionEntry[];
  /** First byte behind the last partition: the random index pack, or the end of the file. */
  end: number;
}

/** `null` where there is no complete header partition pack. */
export function readLayout(read: Read, size: number): Layout | null {
  const runIn = headerStart(read);
  const header = runIn === null ? null : readPartition(read, runIn, size);
  if (runIn === null || header === null) return null;
  const pack = findRandomIndex(read, size);
  const end = pack?.start ?? size;
  const told = pack !== null ? pack.last : header.footer;
  const last = told > 0 && runIn + told < end ? readPartition(read, runIn + told, end) : null;
  const partitions = (pack?.entries ?? []).map(({ bodyId, at }) => ({ bodyId, at: runIn + at }));
  const ordered = partitions.every(({ at }, index) => at < end && at > (partitions[index - 1]?.at ?? -1));
  return { runIn, header, footer: last?.kind === FOOTER ? last : null, partitions: ordered ? partitions : [], end };
}

/**
 * The metadata to believe: of the header when that was closed, else a complete repetition in the footer, else what an open
 * header has (ST 377-1 clause 6.2.3). What tells of no package is no use, and the other one is tried.
 */
export function chooseMetadata(read: Read, layout: Layout, troubles: Set<string>): Metadata | null {
  const { header, footer } = layout;
  const repeated = footer !== null && footer.metadataBytes > 0 ? footer : null;
  const footerFirst = header.status !== CLOSED_AND_COMPLETE && repeated?.status === CLOSED_AND_COMPLETE;
  const order = footerFirst ? [repeated, header] : [header, repeated];
  let damaged: Metadata | null = null;
  for (const partition of order) {
    const metadata = partition === null ? null : metadataOf(read, layout, partition, troubles);
    if (metadata?.sets.some(({ kind }) => kind === setClass.sourcePackage)) {
      for (const trouble of metadata.troubles) troubles.add(trouble);
      if (partition?.status === 1 || partition?.status === 3) {
        const open = 'the header was never closed';
        troubles.add(footer === null ? `${open}: the take is still being recorded, or was broken off` : open);
      }
      return metadata;
    }
    damaged ??= metadata;
  }
  for (const trouble of damaged?.troubles ?? []) troubles.add(trouble);
  troubles.add('there are no readable header metadata');
  return damaged;
}

function metadataOf(read: Read, layout: Layout, partition: Partition, troubles: Set<string>): Metadata | null {
  const { metadata: start, metadataBytes, at } = partition;
  const next = layout.partitions.find((entry) => entry.at > at)?.at ?? layout.end;
  const room = Math.max(0, next - start);
  if (metadataBytes === 0) return null;
  if (metadataBytes > room) {
    troubles.add(`the header metadata have ${count(metadataBytes)} bytes, and there is room for ${count(room)}`);
  }
  if (Math.min(metadataBytes, room) > MAX_METADATA) troubles.add('there are more header metadata than are looked at');
  return readMetadata(read(start, Math.min(metadataBytes, room, MAX_METADATA)));
}

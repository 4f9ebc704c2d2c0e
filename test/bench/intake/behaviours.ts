import { spawn } from 'node:child_process';
import { closeSync, ftruncateSync, openSync, renameSync, writeSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';

/** How copies are really written: in twelve parts, with pauses. Each resolves when its last writer is through. */
export type Write = (path: string, bytes: Buffer, pauses: readonly number[]) => Promise<void>;

export interface Behaviour {
  name: string;
  what: string;
  write: Write;
  /** Where the picture's index lies in the file that is written. */
  index: 'last' | 'first';
  /** Seconds between the parts. */
  pauses: readonly number[];
  /** The watched folder is the far side of a FUSE mount, and the file is written on that side: `behind` the mount. */
  where: 'local' | 'behind' | 'through';
}

const PARTS = 12;
const steady = Array.from({ length: PARTS - 1 }, () => 0.2);
const bursty = [0.2, 3, 0.2, 5, 0.2, 10, 0.2, 4, 7, 0.2, 3.5];

/** A program keeps the file open and writes on. */
const inOneGo: Write = (path, bytes, pauses) => keepOpen(path, bytes, pauses, false);

/** The whole size is there from the start, as zeros. */
const preallocated: Write = (path, bytes, pauses) => keepOpen(path, bytes, pauses, true);

async function keepOpen(path: string, bytes: Buffer, pauses: readonly number[], whole: boolean): Promise<void> {
  const fd = openSync(path, 'w');
  try {
    if (whole) ftruncateSync(fd, bytes.length);
    for (const [part, chunk] of parts(bytes)) {
      writeSync(fd, chunk, 0, chunk.length, start(bytes, part));
      await sleep((pauses[part] ?? 0) * 1000);
    }
  } finally {
    closeSync(fd);
  }
}

const temporaryName: Write = async (path, bytes, pauses) => {
  const at = path.lastIndexOf('/') + 1;
  const temporary = `${path.slice(0, at)}.${path.slice(at)}.part`;
  await inOneGo(temporary, bytes, pauses);
  renameSync(temporary, path);
};

/** Between two parts nobody has the file open. */
const reopened: Write = async (path, bytes, pauses) => {
  for (const [part, chunk] of parts(bytes)) {
    const fd = openSync(path, 'a');
    writeSync(fd, chunk);
    closeSync(fd);
    await sleep((pauses[part] ?? 0) * 1000);
  }
};

/** System calls by number, of the two architectures we run on (unistd.h of Linux): mmap, read. */
const CALLS: Partial<Record<NodeJS.Architecture, readonly [number, number]>> = { x64: [9, 0], arm64: [222, 63] };

/**
 * Maps the file shared, and has `read` put each part into the mapping: no `write` ever happens. Node maps no files; perl
 * is part of every Debian system. With `close`, the descriptor is closed first, and only the mapping is left.
 */
const MAPPED = `
  # Numbers must be numbers to syscall: it hands text over by its address.
  BEGIN { $_ += 0 for @ARGV[1 .. $#ARGV] }
  my ($path, $size, $mmap, $read, $close, @pauses) = @ARGV;
  open(my $file, '+>', $path) or die "$path: $!";
  truncate($file, $size) or die "$path: $!";
  my $at = syscall($mmap, 0, $size, 3, 1, fileno($file), 0);
  die "mmap: $!" if $at == -1;
  close($file) if $close;
  my $done = 0;
  for my $part (0 .. $#pauses) {
    my $end = int($size * ($part + 1) / @pauses);
    while ($done < $end) {
      my $got = syscall($read, 0, $at + $done, $end - $done);
      die "read: $!" if $got <= 0;
      $done += $got;
    }
    select(undef, undef, undef, $pauses[$part]);
  }
`;

function mapped(close: boolean): Write {
  return async (path, bytes, pauses) => {
    const calls = CALLS[process.arch];
    if (calls === undefined) throw new Error(`no system call numbers are known for ${process.arch}`);
    const given = [path, bytes.length, ...calls, close ? 1 : 0, ...pauses, 0].map(String);
    const child = spawn('perl', ['-e', MAPPED, ...given], { stdio: ['pipe', 'ignore', 'inherit'] });
    child.stdin.on('error', () => {});
    child.stdin.end(bytes);
    const code = await new Promise((resolve) => child.once('exit', resolve));
    if (code !== 0) throw new Error(`the mapping writer ended with ${code}`);
  };
}

export const behaviours: readonly Behaviour[] = [
  { name: 'B1', what: 'steady', write: inOneGo, index: 'last', pauses: steady, where: 'local' },
  { name: 'B2', what: 'bursty', write: inOneGo, index: 'last', pauses: bursty, where: 'local' },
  { name: 'B3', what: 'preallocated', write: preallocated, index: 'last', pauses: bursty, where: 'local' },
  {
    name: 'B3f',
    what: 'preallocated, index first',
    write: preallocated,
    index: 'first',
    pauses: bursty,
    where: 'local',
  },
  { name: 'B4', what: 'temporary name', write: temporaryName, index: 'last', pauses: bursty, where: 'local' },
  { name: 'B5', what: 'opened for every part', write: reopened, index: 'last', pauses: bursty, where: 'local' },
  { name: 'B6', what: 'memory-mapped', write: mapped(false), index: 'last', pauses: bursty, where: 'local' },
  { name: 'B7', what: 'behind a FUSE mount', write: inOneGo, index: 'last', pauses: bursty, where: 'behind' },
  { name: 'B8', what: 'same, preallocated', write: preallocated, index: 'last', pauses: bursty, where: 'behind' },
];

/** Beyond the nine: kept apart, since nothing but a goal that is met should look like one. */
export const furtherBehaviours: readonly Behaviour[] = [
  { name: 'B6c', what: 'memory-mapped, closed', write: mapped(true), index: 'last', pauses: bursty, where: 'local' },
  { name: 'B7t', what: 'through a FUSE mount', write: inOneGo, index: 'last', pauses: bursty, where: 'through' },
  { name: 'B8t', what: 'same, preallocated', write: preallocated, index: 'last', pauses: bursty, where: 'through' },
];

function* parts(bytes: Buffer): Generator<[number, Buffer]> {
  for (let part = 0; part < PARTS; part++) yield [part, bytes.subarray(start(bytes, part), start(bytes, part + 1))];
}

function start(bytes: Buffer, part: number): number {
  return Math.floor((bytes.length * part) / PARTS);
}

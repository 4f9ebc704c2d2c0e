import { spawnSync } from 'node:child_process';
import { existsSync } from 'node:fs';

interface Needed {
  command: string;
  /** The Debian package it comes in. */
  package: string;
  why: string;
  /** What tells that it is there, where the command alone does not. */
  tried?: string;
  /** Only user 0 may mount anything: others are told what was not checked instead. */
  toMount?: true;
  /** It brings a service, which must not be started: only its programs are needed. */
  service?: string;
}

/** What the tests run that npm does not bring. */
const needed: readonly Needed[] = [
  { command: 'ffmpeg', package: 'ffmpeg', why: 'encodes of published frame sizes, and the outside opinion of ffprobe' },
  { command: 'mediainfo', package: 'mediainfo', why: 'the other side of the probe bench' },
  { command: 'fio', package: 'fio', why: 'the other side of the speed bench' },
  { command: 'rsync', package: 'rsync', why: 'the other side of the backup bench' },
  { command: 'xxhsum', package: 'xxhash', why: 'an outside opinion of hashes of copies' },
  { command: 'strace', package: 'strace', why: 'calls that fail or lie, and a kill at each of them' },
  { command: 'inotifywait', package: 'inotify-tools', why: 'the other side of the intake bench' },
  { command: 'openssl', package: 'openssl', why: 'certificates of a facility, and an outside opinion of signatures' },
  { command: 'chromium', package: 'chromium', why: 'the page as it is seen' },
  { command: 'busctl', package: 'systemd', why: 'what the desktop and the service manager are told by' },
  { command: 'systemd-analyze', package: 'systemd', why: 'an outside opinion of the units' },
  { command: 'dbus-daemon', package: 'dbus-daemon', why: 'a session bus of its own' },
  {
    command: '/usr/bin/python3',
    package: 'python3-dbus python3-gi',
    why: 'a notification service on it, by the reference binding of D-Bus',
    tried: "/usr/bin/python3 -c 'import dbus, gi'",
  },
  {
    command: 'promtool',
    package: 'prometheus',
    why: 'an outside opinion of metrics and of the rules for them',
    service: 'prometheus.service',
  },
  {
    command: '/usr/bin/python3',
    package: 'python3-prometheus-client',
    why: 'the reference parser of metrics',
    tried: "/usr/bin/python3 -c 'import prometheus_client'",
  },
  { command: 'xmllint', package: 'libxml2-utils', why: 'the schemas of media hash lists' },
  { command: 'strace', package: 'strace', why: 'processes that are killed at each call of theirs' },
  {
    command: 'unshare',
    package: 'util-linux',
    why: 'limits of watches that are not those of the machine; other users',
  },
  { command: 'mount', package: 'mount', why: 'drives that are pulled and plugged in', toMount: true },
  { command: 'mkfs.ext4', package: 'e2fsprogs', why: 'such drives, with fine and with coarse times', toMount: true },
  { command: 'mkfs.btrfs', package: 'btrfs-progs', why: 'volumes of several drives at each level', toMount: true },
  { command: 'mkfs.xfs', package: 'xfsprogs', why: 'shelves in XFS', toMount: true },
  { command: 'mkfs.exfat', package: 'exfatprogs', why: 'a card as cameras and readers give it', toMount: true },
  { command: 'mount.exfat-fuse', package: 'exfat-fuse', why: 'the same, where the kernel has no exFAT', toMount: true },
  { command: 'bindfs', package: 'bindfs', why: 'a mount with a far end, and one that hangs', toMount: true },
];

/** Commands of the system are not on every PATH, where they are installed all the same. */
const path = `${process.env['PATH']}:/usr/sbin:/sbin`;

/**
 * Installs what is missing when it may (root on a Debian system), else says in one line what to run.
 * @returns true when everything is there
 */
export function ensurePackages(): boolean {
  const lacking = needed.filter(
    (one) => (one.toMount !== true || isRoot()) && !found(one.tried ?? `command -v ${one.command}`),
  );
  if (lacking.length === 0) return true;
  const missing = lacking.map((one) => one.package);
  const install = withoutServices(
    `apt-get update && apt-get install -y --no-install-recommends ${missing.join(' ')}`,
    lacking.flatMap(({ service }) => service ?? []),
  );
  if (isRoot() && found('command -v apt-get')) {
    console.log(`installing for the tests: ${missing.join(' ')}`);
    const done = spawnSync('sh', ['-c', install], {
      stdio: ['ignore', 'ignore', 'inherit'],
      env: { ...process.env, DEBIAN_FRONTEND: 'noninteractive' },
    });
    if (done.status === 0) return true;
  }
  console.error(`The tests need ${missing.join(' and ')}: run 'sudo sh -c "${install}"', then start them again.`);
  return false;
}

/** Debian starts a service that it installs, unless it is masked. */
function withoutServices(install: string, services: readonly string[]): string {
  if (services.length === 0) return install;
  const names = services.join(' ');
  const [mask, unmask, disable] = ['mask', 'unmask', 'disable'].map((verb) => `systemctl ${verb} ${names}`);
  return `${mask}; ${install}; done=$?; ${unmask}; ${disable}; exit $done`;
}

/**
 * Whether every test must be possible here: user 0, with both kinds of device for mounts. The machines that check every
 * change are such; a test that is skipped there counts as failed.
 */
export function canDoAll(): boolean {
  return isRoot() && existsSync('/dev/fuse') && existsSync('/dev/loop-control');
}

function isRoot(): boolean {
  return process.geteuid?.() === 0;
}

function found(tried: string): boolean {
  return spawnSync('sh', ['-c', tried], { stdio: 'ignore', env: { ...process.env, PATH: path } }).status === 0;
}

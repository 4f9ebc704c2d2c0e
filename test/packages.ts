import { spawnSync } from 'node:child_process';

/** What the tests run that npm does not bring: command, and the Debian package it comes in. */
const needed: readonly { command: string; package: string; why: string }[] = [
  { command: 'ffmpeg', package: 'ffmpeg', why: 'encodes of published frame sizes, and the outside opinion of ffprobe' },
  { command: 'mediainfo', package: 'mediainfo', why: 'the other side of the probe bench' },
];

/**
 * Installs what is missing when it may (root on a Debian system), else says in one line what to run.
 * @returns true when everything is there
 */
export function ensurePackages(): boolean {
  const missing = needed.filter((one) => !found(one.command)).map((one) => one.package);
  if (missing.length === 0) return true;
  const install = `apt-get update && apt-get install -y --no-install-recommends ${missing.join(' ')}`;
  if (process.getuid?.() === 0 && found('apt-get')) {
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

function found(command: string): boolean {
  return spawnSync('sh', ['-c', `command -v ${command}`], { stdio: 'ignore' }).status === 0;
}

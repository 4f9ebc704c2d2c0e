import { cpSync, mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { Snapshot } from '../../src/core/present/snapshot.ts';
import { type ParsedFamily, parsed, promtool } from '../outside/metrics/tools.ts';
import { type ShelfVolume, shelfVolume, whyNoShelf } from '../rim/backup/shelves.ts';
import { configuration, found, get } from './asking.ts';
import { expectedOf } from './expected-metrics.ts';
import { type Bench, bench, media, type Running, until } from './headroomd.ts';

let place: Bench;
beforeEach(() => {
  place = bench();
});
afterEach(() => place.clear());

const OPENMETRICS = 'application/openmetrics-text;version=1.0.0';

/** What is told of one assessment, by both: the snapshot and the metrics, read by the parser of others. */
function both(daemon: Running): Promise<{ snapshot: Snapshot; families: ParsedFamily[]; text: string }> {
  return found('a snapshot and metrics of the same assessment', async () => {
    const { body: text } = await get(daemon, '/metrics', OPENMETRICS);
    const snapshot = daemon.status();
    const [families = []] = parsed([{ format: 'openmetrics', text }]);
    const at = families.find(({ name }) => name === 'headroomd_assessed_timestamp_seconds')?.samples[0]?.value;
    return at === Date.parse(snapshot.at) / 1000 ? { snapshot, families, text } : null;
  });
}

/** Of the daemon itself: nothing in the snapshot is beside them. */
const OWN = /^headroomd_(process|event_loop|loop|probes?)_?/;

const why = whyNoShelf('ext4');
if (why !== null) console.warn(`NOT CHECKED: metrics of real backups: ${why}`);

describe.skipIf(why !== null)('metrics of a daemon with real clips and a real shelf', () => {
  let drive: ShelfVolume;
  beforeEach(() => {
    drive = shelfVolume('ext4', 48);
    drive.mount();
  });
  afterEach(() => drive.remove());

  test('metric by metric they tell what the snapshot tells, and name no file', async () => {
    const names = ['Tidewater Sessions', 'Lock "Keepers" \\ 潮', 'Salt\nmarsh'];
    for (const name of names) {
      mkdirSync(join(place.volume, name, 'Footage'), { recursive: true });
      for (const clip of ['tidewater-a.mov', 'tidewater-b.mov'])
        cpSync(join(media, clip), join(place.volume, name, 'Footage', clip));
    }
    writeFileSync(join(place.volume, 'Tidewater Sessions', 'Footage', 'notes.mov'), 'only words\n'.repeat(30));
    const shelf = `[[shelf]]\nname = "shelf-a"\npath = "${drive.mountPoint}"\n[[backup]]\nfrom = "stripe"\nto = ["shelf-a"]\n`;
    const daemon = await place.start(['--config', configuration(place, 'metrics = true', shelf)]);
    await until('the clips are ready', () => daemon.status().projects.reduce((sum, { clips }) => sum + clips, 0) === 6);
    expect(place.call('backup', 'now', 'shelf-a').status).toBe(0);
    await until('it has ended', () => daemon.status().backups[0]?.state === 'done');
    await until('it is told as verified', () => daemon.status().volumes[0]?.safety.lastVerifiedAt != null);
    await until('one is refused', () => daemon.status().arrivals.some(({ state }) => state === 'refused'));

    const { snapshot, families, text } = await both(daemon);
    const expected = expectedOf(snapshot);
    for (const [name, all] of Object.entries(expected)) {
      const told = families.find((family) => family.name === name)?.samples ?? [];
      const known = all.filter(([, value]) => value !== null && value !== undefined);
      const raised = name === 'headroomd_advisories' ? told.filter(({ value }) => value > 0) : told;
      const pairs = (list: [Record<string, string>, unknown][]) =>
        list.map(([labels, value]) => [Object.entries(labels).sort(), value]).map((one) => JSON.stringify(one));
      const want = pairs(known as never);
      const have = pairs(raised.map(({ labels, value }) => [labels, value]));
      if (name === 'headroomd_backup_last_success_timestamp_seconds') {
        // It is noted when the run is through with all that comes after it.
        expect(raised[0]?.labels).toEqual({ volume: 'stripe', shelf: 'shelf-a' });
        expect(Math.abs((raised[0]?.value ?? 0) - (known[0]?.[1] ?? 0))).toBeLessThan(20);
      } else expect(have.sort(), name).toEqual(want.sort());
    }
    const unknown = families.map(({ name }) => name).filter((name) => !(name in expected) && !OWN.test(name));
    expect(unknown).toEqual([]);
    // Something was compared at all.
    for (const name of [
      'headroomd_shelf_copies_files',
      'headroomd_backup_run_verified_bytes',
      'headroomd_project_clips',
    ])
      expect(families.find((family) => family.name === name)?.samples.length).toBeGreaterThan(0);
    expect(
      new Set(
        families.find(({ name }) => name === 'headroomd_project_clips')?.samples.map(({ labels }) => labels['project']),
      ),
    ).toEqual(new Set([names[0], names[1], 'Salt\\nmarsh']));
    const probes = families.find(({ name }) => name === 'headroomd_probes')?.samples ?? [];
    expect(probes.find(({ labels }) => labels['outcome'] === 'ok')?.value).toBeGreaterThanOrEqual(6);
    expect(text).not.toMatch(/\.mov|\/|only words/);
    expect(promtool(['check', 'metrics'], (await get(daemon, '/metrics')).body)).toBe('');
  }, 240_000);
});

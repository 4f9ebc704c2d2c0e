import { spawnSync } from 'node:child_process';
import { cpSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { type ParsedFamily, parsed, promtool } from '../outside/metrics/tools.ts';
import { ask, configuration, found, get } from './asking.ts';
import { type Bench, bench, media, type Running, until } from './headroomd.ts';
import { trap } from './traps/abilities.ts';
import { passThrough } from './traps/machine.ts';

let place: Bench;
beforeEach(() => {
  place = bench();
  mkdirSync(place.volume);
});
afterEach(() => place.clear());

/** Waits until it is answered with that status. */
const answered = (daemon: Running, path: string, status: number) =>
  found(`${path} answers ${status}`, async () => {
    const answer = await get(daemon, path);
    return answer.status === status ? answer : null;
  });

test('metrics that are not switched on are told over the control socket, to its user alone', async () => {
  const daemon = await place.start(['--config', configuration(place, 'metrics = false')]);
  expect((await get(daemon, '/metrics')).status).toBe(403);
  const told = await ask({ socketPath: join(place.state, 'control.sock'), path: '/metrics' });
  expect(told).toMatchObject({ status: 200, type: 'text/plain; version=0.0.4; charset=utf-8' });
  expect(told.body).toContain('headroomd_volume_state{volume="stripe",state="live"}');
  expect((await get(daemon, '/healthz')).status).toBe(200);
});

test('a process of a volume that is stopped is told, since when, until another has taken its place', async () => {
  const daemon = await place.start(['--config', configuration(place, 'metrics = true')]);
  expect((await answered(daemon, '/readyz', 200)).body).toBe('ready\nstripe: live\n');
  expect(await get(daemon, '/healthz')).toMatchObject({ status: 200, body: 'ok\n' });
  const pattern = `compose-root.ts .*"root":"${place.volume}"`;
  // Each that takes its place is stopped as well, until that was told: else it might be there before anybody has looked.
  const told = await found('/healthz answers 503', async () => {
    spawnSync('pkill', ['-STOP', '-f', pattern]);
    const answer = await get(daemon, '/healthz');
    return answer.status === 503 ? answer : null;
  });
  expect(told.body).toMatch(
    /^volume-process of stripe: stands still since 20\d\d-.*, \d\d s \(.*\)\. What it waits for does not answer/,
  );
  await answered(daemon, '/healthz', 200);
});

trap(
  'a mount that hangs: health names it for as long as it does, all else is told, and the rules speak',
  ['pass-through'],
  async () => {
    const behind = join(place.folder, 'behind');
    mkdirSync(join(behind, 'Saltmarsh'), { recursive: true });
    cpSync(join(media, 'tidewater-a.mov'), join(behind, 'Saltmarsh', 'A001.mov'));
    const mounted = await passThrough(behind, place.volume);
    try {
      const daemon = await place.start(['--config', configuration(place, 'metrics = true')]);
      await until('the clip is read', () => daemon.clips().length === 1);
      await answered(daemon, '/healthz', 200);
      mounted.server.kill('SIGSTOP');
      await until('it is hung', () => daemon.status().volumes[0]?.state === 'hung');
      // Further processes are sent after it, say that they are there, and hang as well.
      await until('it is a warning', () => daemon.status().advisories.some(({ kind }) => kind === 'volume-absent'), 60);
      await until('another was sent', () => daemon.log().split('its process is given up').length > 2);
      const { body } = await answered(daemon, '/healthz', 503);
      expect(body).toMatch(/^volume-process of stripe: stands still .*: check drive, cable, network and server\.\n$/);
      expect((await get(daemon, '/readyz')).body).toBe('ready\nstripe: hung\n');

      const [families = []] = parsed([{ format: 'text', text: (await get(daemon, '/metrics')).body }]);
      const of = (name: string) => families.find((family) => family.name === name)?.samples;
      expect(of('headroomd_volume_size_bytes')).toBeUndefined();
      expect(of('headroomd_project_clips')?.map(({ value }) => value)).toEqual([1]);
      expect(of('headroomd_volume_state')?.find(({ labels }) => labels['state'] === 'hung')?.value).toBe(1);
      expect(spokenOf(families)).toContain('SUCCESS');

      mounted.server.kill('SIGCONT');
      await answered(daemon, '/healthz', 200);
      await until('it is live again', () => daemon.status().volumes[0]?.state === 'live');
    } finally {
      await mounted.remove();
    }
  },
  180,
);

/** The rules, with the series that were really told: of what a hung volume must raise, and nothing of what it must not. */
function spokenOf(families: readonly ParsedFamily[]): string {
  const series = families.flatMap(({ samples }) =>
    samples.map(({ name, labels, value }) => {
      const pairs = Object.entries({ ...labels, workstation: 'edit-07' }).map(
        ([key, text]) => `${key}=${JSON.stringify(text)}`,
      );
      return { series: `${name}{${pairs.join(',')}}`, values: `${value}x20` };
    }),
  );
  const expectSome = (alertname: string, labels: object) => ({
    ...{ eval_time: '15m', alertname },
    exp_alerts: [{ exp_labels: { severity: 'warning', workstation: 'edit-07', ...labels } }],
  });
  const silent = ['HeadroomdCritical', 'HeadroomdNotRunning', 'HeadroomdFiguresOld', 'BackupOverdue', 'FootageExposed'];
  const file = join(place.folder, 'rules.test.yml');
  const rules = readFileSync(join(import.meta.dirname, '../../config/metrics/rules.yml'), 'utf8');
  const silentRules = join(place.folder, 'rules.yml');
  // What annotations say is checked with the rules themselves.
  writeFileSync(silentRules, rules.replaceAll(/^ +annotations:\n(?: {10}.*\n)+/gm, ''));
  writeFileSync(
    file,
    JSON.stringify({
      rule_files: [silentRules],
      evaluation_interval: '1m',
      tests: [
        {
          interval: '1m',
          input_series: series,
          alert_rule_test: [
            expectSome('VolumeNotThere', { volume: 'stripe', state: 'hung' }),
            expectSome('HeadroomdStandsStill', { loop: 'volume-process', of: 'stripe', outside: 'true' }),
            expectSome('HeadroomdWarning', { kind: 'volume-absent' }),
            ...silent.map((alertname) => ({ eval_time: '15m', alertname, exp_alerts: [] })),
          ],
        },
      ],
    }),
  );
  return promtool(['test', 'rules', file]);
}

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { FullSettings } from '../../src/settings/full-settings.ts';
import { parseSettings } from '../../src/settings/parse.ts';
import { runs } from '../effort.ts';
import { annotated, HOME, withDefaults, wrongCases, wrongText } from './configuration-file.ts';

function settingsOf(text: string): FullSettings {
  const result = parseSettings(text, { homeDir: HOME });
  if (!result.ok) throw new Error(JSON.stringify(result.problems, null, 2));
  return result.settings;
}

const VOLUME = '[[volume]]\nname = "stripe"\npath = "~/stripe/"\n';

describe('a file without problems', () => {
  test('a program that copies, beside shelves or alone', () => {
    const command = 'name = "tape"\ncommand = ["/usr/local/bin/to-tape", "{list}"]\nread_back = "~/tape/"';
    const shelves = '[[shelf]]\nname = "shelf-a"\npath = "/a"\n[[shelf]]\nname = "shelf-b"\npath = "/b"';
    const both = settingsOf(`${VOLUME}\n${shelves}\n[[backup]]\nfrom = "stripe"\nto = ["shelf-a"]\n${command}`);
    const told = { name: 'tape', argv: ['/usr/local/bin/to-tape', '{list}'], readBack: '/home/editor/tape' };
    expect(both?.backups).toMatchObject([{ to: ['shelf-a'], command: told, rereadSeconds: 5_184_000 }]);
    const alone = settingsOf(`${VOLUME}\n[[backup]]\nfrom = "stripe"\n${command}`);
    expect(alone?.backups).toMatchObject([{ to: [], command: told }]);
  });

  test('every setting reaches its place, in bytes, seconds and shares', () => {
    const text = `${VOLUME}
      projects = "*/*"
      ingest = ["Footage/"]
      ignore = ["**/Scratch/**"]
      shared = ["For The Mix"]
      kinds = { proxy = ["Small Pictures"], cache = [] }
      reserve = "500 GB"
      layout = { level = "10", members = 4, drive = "hdd", link = "usb4" }
      speed = { read = "1700 MB/s", write = "1.5 GB/s" }
      speed_reserve = "25%"
      [arrivals]
      quiet = "100 ms"
      quiet_without_structure = "3 s"
      quiet_remote = "1 min"
      stalled_after = "1 h"
      sweep_every = "20 s"
      full_sweep_every = "2 h"
      [cards]
      look = false
      under = ["~/cards/", "/readers"]
      [thresholds]
      speed_raise = "95%"
      speed_clear = "80%"
      raise_after = "5 s"
      clear_after = "2 min"
      session = "4h"
      wanted_copies = 3
      [page]
      enabled = false
      port = 0
      metrics = true
      [log]
      level = "debug"
      [[shelf]]
      name = "shelf-b"
      path = "/media/shelf-b"
      rotate = true
      [[backup]]
      from = "stripe"
      to = ["shelf-b"]
      nightly = "30  5 * * 1-5"
      hashes = ["md5", "c4"]
      window = "4 h"
      reread = "30 d"
      [[plan]]
      project = "Lock Keepers"
      days = ["2027-03-05", "2027-03-04"]
      cameras = 2
      format = "DNxHR HQX"
      raster = "3840x2160"
      rate = "23.976"
      hours = 2.5`;
    expect(settingsOf(text)).toEqual({
      volumes: [
        {
          name: 'stripe',
          path: '/home/editor/stripe',
          projects: '*/*',
          ingest: ['Footage'],
          ignore: ['**/Scratch/**'],
          shared: ['For The Mix'],
          kinds: { proxy: ['Small Pictures'] },
          reserve: { bytes: 500_000_000_000 },
          layout: { level: '10', members: 4, drive: 'hdd', link: 'usb4' },
          speed: { readBps: 1_700_000_000, writeBps: 1_500_000_000 },
          multicam: [],
          speedReserve: 0.25,
        },
      ],
      arrivals: {
        quiet: 0.1,
        quietWithoutStructure: 3,
        quietRemote: 60,
        stalledAfter: 3600,
        sweepEvery: 20,
        fullSweepEvery: 7200,
      },
      cards: { look: false, under: ['/home/editor/cards', '/readers'] },
      thresholds: {
        speedRaise: 0.95,
        speedClear: 0.8,
        raiseAfter: 5,
        clearAfter: 120,
        wantedCopies: 3,
        sessionSeconds: 14_400,
      },
      page: { enabled: false, port: 0, metrics: true },
      log: { level: 'debug' },
      shelves: [{ name: 'shelf-b', path: '/media/shelf-b', rotate: true }],
      backups: [
        {
          from: 'stripe',
          to: ['shelf-b'],
          nightly: '30 5 * * 1-5',
          windowSeconds: 14_400,
          rereadSeconds: 2_592_000,
          hashes: ['md5', 'c4'],
          command: null,
        },
      ],
      plans: [
        {
          project: 'Lock Keepers',
          days: ['2027-03-04', '2027-03-05'],
          cameras: 2,
          format: 'DNxHR HQX',
          width: 3840,
          height: 2160,
          frameRate: { num: 24_000, den: 1001 },
          hours: 2.5,
        },
      ],
      notify: [],
    });
  });

  // The values of the contract in settings.ts.
  test('what is not written has its default', () => {
    expect(settingsOf(VOLUME)).toEqual({
      volumes: [
        {
          name: 'stripe',
          path: '/home/editor/stripe',
          projects: 'guess',
          ingest: [],
          ignore: [],
          shared: [],
          kinds: {},
          reserve: { share: 0.1 },
          layout: null,
          speed: null,
          multicam: [],
          speedReserve: 0.3,
        },
      ],
      arrivals: {
        quiet: 0.3,
        quietWithoutStructure: 2,
        quietRemote: 30,
        stalledAfter: 600,
        sweepEvery: 10,
        fullSweepEvery: 900,
      },
      cards: { look: true, under: ['/media', '/run/media', '/mnt'] },
      thresholds: {
        speedRaise: 1,
        speedClear: 0.9,
        raiseAfter: 20,
        clearAfter: 60,
        wantedCopies: null,
        sessionSeconds: null,
      },
      page: { enabled: true, port: 4717, metrics: false },
      log: { level: 'info' },
      shelves: [],
      backups: [],
      plans: [],
      notify: [],
    });
  });

  test('channels: what is left away, and the ports of mail by how private the way is', () => {
    const notify = (text: string) => settingsOf(`${VOLUME}[[notify]]\n${text}`).notify[0];
    const rule = { severity: 'warning', quiet: null, quietSeverity: 'critical' };
    expect(notify('kind = "desktop"')).toEqual({ ...rule, kind: 'desktop', name: 'desktop' });
    expect(notify('kind = "webhook"\nurl = "https://told.example.org/x"\nquiet = "22:00-07:30"')).toEqual({
      ...{ ...rule, kind: 'webhook', name: 'webhook', url: 'https://told.example.org/x' },
      ...{ quiet: { from: 1320, until: 450 }, secretFile: null, caFile: null, private: false },
    });
    const mail = 'kind = "mail"\nhost = "localhost"\nfrom = "a@example.org"\nto = ["b@example.org"]';
    expect(notify(`${mail}\nreport = "07:30"\nuser = "a"\npassword_file = "credential:mail"`)).toMatchObject({
      ...{ host: 'localhost', security: 'tls', report: 450, login: { user: 'a', passwordFile: 'credential:mail' } },
    });
    // RFC 8314, 3.3; RFC 6409, 3.1; RFC 5321, 4.5.4.2.
    const ports = ['tls', 'starttls', 'none'].map((way) => notify(`${mail}\nsecurity = "${way}"`));
    expect(ports.map((one) => one?.kind === 'mail' && one.port)).toEqual([465, 587, 25]);
    expect(notify('kind = "command"\nname = "wall"\ncommand = ["/bin/wall", "x"]')).toMatchObject({
      ...{ name: 'wall', argv: ['/bin/wall', 'x'] },
    });
  });

  test('the same written with dots, with headers or in line', () => {
    const parts = ['level = "5"', 'members = 3', 'drive = "ssd"'];
    const inLine = settingsOf(`${VOLUME}layout = { ${parts.join(', ')} }`);
    expect(settingsOf(`${VOLUME}${parts.map((part) => `layout.${part}`).join('\n')}`)).toEqual(inLine);
    expect(settingsOf(`${VOLUME}[volume.layout]\n${parts.join('\n')}`)).toEqual(inLine);
    expect(inLine.volumes[0]?.layout).toEqual({ level: '5', members: 3, drive: 'ssd', link: null });
  });

  test('no volume is needed when folders come with the command', () => {
    expect(parseSettings('', { homeDir: HOME, foldersGiven: true })).toMatchObject({
      ok: true,
      settings: { volumes: [] },
    });
  });
});

describe('wanted copies', () => {
  test('as written; where nothing is, that hangs on the shelves of each volume', () => {
    expect(settingsOf(VOLUME).thresholds.wantedCopies).toBeNull();
    expect(settingsOf(`${VOLUME}[thresholds]\nwanted_copies = 2`).thresholds.wantedCopies).toBe(2);
  });
});

describe('any text', () => {
  const path = (text: string) => `[[volume]]\nname = "stripe"\npath = "${text}"\n`;

  test.each([
    ['a text of a million characters', path(`/${'x'.repeat(1_000_000)}`), /far more/],
    ['lists nested in thousands', `${path('/x')}shared = ${'['.repeat(5000)}${']'.repeat(5000)}`, /far more/],
    ['a key of thousands of parts', `${path('/x')}[log]\n${'a.'.repeat(20_000)}a = 1`, /^"a"$/],
    ['thousands of wrong values', `${path('/x')}shared = [${'1,'.repeat(5000)}]`, /^1$/],
  ])('%s is answered, not thrown', (_what, text, found) => {
    const result = parseSettings(text, { homeDir: HOME });
    expect(result.ok ? null : result.problems[0]?.found).toMatch(found);
  });

  test('never throws, and a refusal says at least one thing', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'binary' }), (text) => {
        const result = parseSettings(text, { homeDir: HOME });
        expect(result.ok || result.problems.length).toBeTruthy();
      }),
      { numRuns: runs(500) },
    );
  });

  test('a good or bad file with a stretch cut out, doubled or replaced never throws, and its places exist', () => {
    const base = fc.constantFrom(annotated, withDefaults, ...wrongCases.map(wrongText));
    const piece = fc.oneof(
      fc.string({ maxLength: 8 }),
      fc.constantFrom('[', ']]', '"', '{', '=', '\n', '__proto__', '\u0000', '9e999'),
    );
    fc.assert(
      fc.property(base, fc.nat(), fc.nat(30), piece, (text, at, length, by) => {
        const start = at % (text.length + 1);
        const mangled = text.slice(0, start) + by + text.slice(start + length);
        const result = parseSettings(mangled, { homeDir: HOME });
        for (const problem of result.ok ? [] : result.problems) {
          expect(problem.line ?? 1).toBeLessThanOrEqual(mangled.split('\n').length);
          expect(`${problem.key}${problem.expected}${problem.found}${problem.hint}`).not.toMatch(/[\p{Cc}\p{Cf}]/u);
        }
      }),
      { numRuns: runs(400) },
    );
  });
});

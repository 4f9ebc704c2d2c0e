import { pino } from 'pino';
import pretty from 'pino-pretty';
import type { Log } from '../../core/ports.ts';

/**
 * The log on standard error: lines for a person on a terminal, one JSON object a line otherwise.
 * Written synchronously, so that the last words before an exit are not lost.
 */
export function createLog(level: 'debug' | 'info' | 'warn' | 'error', toTerminal: boolean, colour: boolean): Log {
  if (!toTerminal) {
    return pino(
      { level, base: null, timestamp: pino.stdTimeFunctions.isoTime },
      pino.destination({ fd: 2, sync: true }),
    );
  }
  const lines = pretty({
    destination: 2,
    sync: true,
    colorize: colour,
    translateTime: 'SYS:HH:MM:ss',
    // The message says it all; the fields are for machines.
    hideObject: level !== 'debug',
    ignore: 'pid,hostname',
  });
  return pino({ level, base: null }, lines);
}

import { type LogFn, pino } from 'pino';
import pretty from 'pino-pretty';
import type { Log } from '../../core/ports.ts';
import { display } from '../../core/present/escape.ts';

/**
 * The log on standard error: lines for a person on a terminal, one JSON object a line otherwise.
 * Written synchronously, so that the last words before an exit are not lost.
 */
export function createLog(level: 'debug' | 'info' | 'warn' | 'error', toTerminal: boolean, colour: boolean): Log {
  // File names and what is read from files are hostile input: escaped here, once, for every line.
  const options = { level, base: null, formatters: { log: safeFields }, hooks: { logMethod: logSafely } };
  if (!toTerminal) {
    return pino({ ...options, timestamp: pino.stdTimeFunctions.isoTime }, pino.destination({ fd: 2, sync: true }));
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
  return pino(options, lines);
}

/** pino takes `%s` and the like for places to fill in; a `%` in a name is none. */
function logSafely(this: unknown, args: Parameters<LogFn>, method: LogFn): void {
  const [fields, message] = args as unknown as [object, string];
  method.call(this as never, fields, display(message).replaceAll('%', '%%'));
}

function safeFields(fields: object): Record<string, unknown> {
  return Object.fromEntries(Object.entries(fields).map(([name, value]) => [name, safe(value)]));
}

function safe(value: unknown): unknown {
  if (typeof value === 'string') return display(value);
  return Array.isArray(value) ? value.map(safe) : value;
}

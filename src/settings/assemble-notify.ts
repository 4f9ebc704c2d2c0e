import type { NotifySettings } from './full-settings.ts';
import type { Configuration } from './schema.ts';

type Written = Configuration['notify'][number];

/** Of servers that take mail: RFC 8314 (465), RFC 6409 (587), RFC 5321 (25). */
const PORTS: Record<'tls' | 'starttls' | 'none', number> = { tls: 465, starttls: 587, none: 25 };

/** One channel. What its kind needs is there: else the file held a problem (`cross-notify.ts`). */
export function notifySettings(written: Written): NotifySettings {
  const { kind, name = kind, severity, quiet = null, quiet_severity: quietSeverity } = written;
  return { name, severity, quiet, quietSeverity, ...ofKind(written) };
}

function ofKind(written: Written) {
  const { kind, url = '', secret_file: secretFile = null, ca_file: caFile = null, command = [] } = written;
  if (kind === 'webhook') return { kind, url, secretFile, caFile, private: written.private === true };
  if (kind === 'command') return { kind, argv: command };
  if (kind === 'desktop') return { kind };
  const { host = '', security = 'tls', port = PORTS[security], from = '', to = [], report = null } = written;
  const { user, password_file: passwordFile } = written;
  const login = user === undefined || passwordFile === undefined ? null : { user, passwordFile };
  return { kind, host, port, security, from, to, login, caFile, report };
}

import { NOTIFY_DEFAULTS as NOTIFY } from './defaults.ts';
import { about, flag, listOf, name, oneOf, table, wholeNumber, written } from './leaf.ts';
import { CLOCK_PATTERN, parseClock, parseHours, parseRecipient, parseSecretPlace, SECRET_PATTERN } from './notify.ts';
import { type Reading, refused, understood } from './reading.ts';

export const NOTIFY_KINDS = ['webhook', 'command', 'mail', 'desktop'] as const;

const SEVERITIES = ['notice', 'warning', 'critical'] as const;

const HOURS_EXPECTED = 'hours like "22:00-07:00"';
const CLOCK_EXPECTED = 'a time of the day like "07:30"';
const SECRET_EXPECTED = 'a path from the root, like "/etc/headroomd/secret", or "credential:NAME"';
const ADDRESS_EXPECTED = 'a mail address like "edit@example.org"';
const COMMAND_EXPECTED = 'a program and its arguments, like ["/usr/local/bin/tell-all"]';
const PORT_EXPECTED = 'a port from 1 to 65535';

const anyText = (expected: string, example: string) => written(expected, null, [example], parseText);
const secretPlace = () => written(SECRET_EXPECTED, SECRET_PATTERN, ['/etc/headroomd/secret'], parseSecretPlace);
const address = () => written(ADDRESS_EXPECTED, null, ['edit@example.org'], parseRecipient);

/** Somebody, or something, that is told of advisories. Which keys belong to which kind: `cross-notify.ts`. */
export const notifyTable = table('a [[notify]] table', {
  kind: oneOf(NOTIFY_KINDS).meta(about('How it is told: POST to an address, a program, mail, or the desktop.')),
  name: name('a name', 'gallery')
    .optional()
    .meta(about('What the log calls it; each name only once. The kind when left away.')),
  severity: oneOf(SEVERITIES)
    .prefault(NOTIFY.severity.value)
    .meta(about('The least severity it is told.', NOTIFY.severity)),
  quiet: written(HOURS_EXPECTED, null, ['22:00-07:00'], parseHours)
    .optional()
    .meta(about('Hours in which little is told, by the clocks of this machine. The rest waits until they end.')),
  quiet_severity: oneOf(SEVERITIES)
    .prefault(NOTIFY.quietSeverity.value)
    .meta(about('The least severity it is told in quiet hours.', NOTIFY.quietSeverity)),
  url: anyText('an address like "https://told.example.org/headroomd"', 'https://told.example.org/headroomd')
    .optional()
    .meta(about('webhook: where messages are posted. https, or http to this machine itself.')),
  secret_file: secretPlace().optional().meta(about('webhook: the file with the secret that messages are signed with.')),
  ca_file: written('a path from the root, like "/etc/ssl/facility.pem"', '^/', ['/etc/ssl/facility.pem'], parseRooted)
    .optional()
    .meta(about('webhook, mail: certificates (PEM) of authorities of your own.')),
  private: flag('true or false')
    .optional()
    .meta(about('webhook: may its address be a private one, or this machine itself? Only when that was said.')),
  command: listOf(anyText('a text without a zero character', '--all'), COMMAND_EXPECTED)
    .min(1, { error: COMMAND_EXPECTED })
    .optional()
    .meta(about('command: the program and its arguments, without a shell.')),
  host: anyText('the name of a machine, like "mail.example.org"', 'mail.example.org')
    .optional()
    .meta(about('mail: the server that takes it.')),
  port: wholeNumber(PORT_EXPECTED, 1, 65_535)
    .optional()
    .meta(about('mail: its port. 465 with "tls", 587 with "starttls", 25 with "none" when left away.')),
  security: oneOf(['tls', 'starttls', 'none'])
    .optional()
    .meta(about('mail: how the way there is kept private. "tls" when left away; "none" only to this machine itself.')),
  from: address().optional().meta(about('mail: who it is from.')),
  to: listOf(address(), `a list of mail addresses, like ["edit@example.org"]`)
    .min(1, { error: 'a list of mail addresses, like ["edit@example.org"]' })
    .optional()
    .meta(about('mail: who gets it.')),
  user: anyText('a name like "headroomd"', 'headroomd').optional().meta(about('mail: the name to sign in with.')),
  password_file: secretPlace().optional().meta(about('mail: the file with the password.')),
  report: written(CLOCK_EXPECTED, CLOCK_PATTERN, ['07:30'], parseClock)
    .optional()
    .meta(about('mail: when the report of the day is sent, by the clocks of this machine. None when left away.')),
});

function parseText(text: string): Reading<string> {
  if (text === '') return refused('it cannot be empty');
  return text.includes('\0') ? refused('it holds no zero character') : understood(text);
}

function parseRooted(text: string): Reading<string> {
  return text.startsWith('/') && !text.includes('\0') ? understood(text) : refused();
}
